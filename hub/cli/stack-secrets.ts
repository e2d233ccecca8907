import { randomBytes } from 'node:crypto'
import { mkdir, open, readFile, rename, rm } from 'node:fs/promises'
import { join } from 'node:path'
import { z } from 'zod'
import { HubError } from '../errors.ts'
import { makePassword } from '../ingest/password.ts'

/** What the parts of a stack of containers show each other. */
const stackSecrets = z.strictObject({
  /** The hub's at the broker. */
  broker: z.string().min(1),
  /** Of InfluxDB's administrator, whom nothing but `prepare` uses. */
  influxAdmin: z.string().min(1),
  /** The hub's at InfluxDB. */
  influxHub: z.string().min(1),
  /** Of the account with which other programs read what the hub says at the broker. */
  reader: z.string().min(1),
})
const foundSecrets = stackSecrets.partial({ reader: true })
export type StackSecrets = z.infer<typeof stackSecrets>

const FILE = 'passwords.json'

/**
 * Reads the passwords in a folder, or makes them: once made they stay, whatever happens in between. One that an older
 * version did not make is added.
 *
 * @throws HubError HUB_CONFIG when the folder cannot be used or holds something else
 */
export async function stackSecretsIn(folder: string): Promise<StackSecrets> {
  const path = join(folder, FILE)
  const text = await readFile(path, 'utf8').catch((error: NodeJS.ErrnoException) => {
    if (error.code === 'ENOENT') return null
    throw unusable(path, error)
  })
  if (text === null) {
    const made = {
      broker: makePassword(),
      influxAdmin: makePassword(),
      influxHub: makePassword(),
      reader: makePassword(),
    }
    await writeSecret(path, made)
    return made
  }
  let found: z.infer<typeof foundSecrets>
  try {
    found = foundSecrets.parse(JSON.parse(text))
  } catch (error) {
    throw unusable(path, error)
  }
  if (found.reader !== undefined) return { ...found, reader: found.reader }
  const secrets = { ...found, reader: makePassword() }
  await writeSecret(path, secrets)
  return secrets
}

/**
 * Writes JSON whole or not at all, readable by its owner alone.
 *
 * @throws HubError HUB_CONFIG
 */
export async function writeSecret(path: string, content: unknown): Promise<void> {
  const draft = `${path}.${randomBytes(6).toString('hex')}`
  try {
    await mkdir(join(path, '..'), { recursive: true, mode: 0o700 })
    const file = await open(draft, 'wx', 0o600)
    try {
      await file.writeFile(`${JSON.stringify(content, null, 2)}\n`)
      await file.sync()
    } finally {
      await file.close()
    }
    await rename(draft, path)
  } catch (error) {
    await rm(draft, { force: true }).catch(() => {})
    throw unusable(path, error)
  }
}

/** What went wrong with a file of secrets; its content is never part of it. */
function unusable(path: string, cause: unknown): HubError {
  const what =
    cause instanceof z.ZodError || cause instanceof SyntaxError
      ? 'expected the passwords that were made at the first start, got something else'
      : (cause as Error).message
  return new HubError('HUB_CONFIG', `${path}: ${what}`, { retry: false })
}
