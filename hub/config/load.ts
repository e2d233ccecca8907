import { readFileSync } from 'node:fs'
import { HubError } from '../errors.ts'
import { CONFIG_FILE_ENV, configSchema, SETTINGS, type Config } from './settings.ts'

export interface LoadedConfig {
  readonly config: Config
  /** Keys that somebody set, in the environment or the file. */
  readonly given: ReadonlySet<keyof Config>
}

const bad = (message: string, cause?: unknown): HubError =>
  new HubError('HUB_CONFIG', message, { retry: false, cause })

/** The config file as an object; a setting's name that does not exist is refused by name. */
function readFile(path: string): Record<string, unknown> {
  let text: string
  try {
    text = readFileSync(path, 'utf8')
  } catch (cause) {
    throw bad(`config file ${path}: expected a readable file, got ${String(cause)}`, cause)
  }
  let parsed: unknown
  try {
    parsed = JSON.parse(text)
  } catch (cause) {
    // What the parser says repeats what stands there, which may be a password.
    const [, where = ''] = /(\(line \d+ column \d+\))$/.exec((cause as Error).message) ?? []
    throw bad(`config file ${path}: expected JSON, got something else ${where}`.trimEnd())
  }
  if (typeof parsed !== 'object' || parsed === null || Array.isArray(parsed)) {
    throw bad(`config file ${path}: expected an object such as {"httpPort": 8090}`)
  }
  return parsed as Record<string, unknown>
}

/**
 * Settings from the environment, then the config file, then the defaults.
 *
 * @param env the process environment
 * @param file path of a JSON config file; else the one LOAMLINE_CONFIG names, if any
 * @throws HubError HUB_CONFIG with one line that names the setting, what was expected and what came
 */
export function loadConfig(
  env: Readonly<Record<string, string | undefined>>,
  file?: string,
): LoadedConfig {
  const path = file ?? env[CONFIG_FILE_ENV]
  const fromFile = path === undefined ? {} : readFile(path)
  const values: Record<string, unknown> = { ...fromFile }
  const origin = new Map<string, string>(
    Object.keys(fromFile).map((key) => [key, `${key} in ${path}`]),
  )

  const known = new Set<string>([...SETTINGS.map((s) => s.env), CONFIG_FILE_ENV])
  for (const name of Object.keys(env)) {
    // A misspelt setting that is silently ignored costs an evening.
    if (name.startsWith('LOAMLINE_') && !known.has(name)) {
      throw bad(`${name} is not a setting; 'npm run loamline -- settings' lists them`)
    }
  }
  for (const setting of SETTINGS) {
    const value = env[setting.env]
    if (value === undefined || value === '') continue
    values[setting.key] = value
    origin.set(setting.key, setting.env)
  }

  const result = configSchema.safeParse(values)
  if (!result.success) {
    const issue = result.error.issues[0]!
    if (issue.code === 'unrecognized_keys') {
      throw bad(
        `${issue.keys.join(', ')} in ${path} is not a setting; 'npm run loamline -- settings' lists them`,
      )
    }
    const key = String(issue.path[0])
    const secret = /password|token/i.test(key)
    // An address may carry a password too.
    const came = secret
      ? 'something else'
      : JSON.stringify(values[key])?.replace(/^("?)([a-z]+:\/\/)?.*@/is, '$1$2…@')
    throw bad(`${origin.get(key) ?? key}: expected ${issue.message}, got ${came}`)
  }
  return { config: result.data, given: new Set(origin.keys() as Iterable<keyof Config>) }
}
