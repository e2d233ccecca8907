import { execFile } from 'node:child_process'

export interface Ran {
  readonly code: number
  readonly out: string
  readonly err: string
}

/** One command as a user would type it, with no settings but these. */
export function runCommand(env: Readonly<Record<string, string>>, ...args: string[]): Promise<Ran> {
  const inherited = Object.fromEntries(
    Object.entries(process.env).filter(([name]) => !name.startsWith('LOAMLINE_')),
  )
  return new Promise((resolve) => {
    execFile(
      process.execPath,
      ['hub/cli/loamline.mjs', ...args],
      { env: { ...inherited, LOAMLINE_ZONE: 'Europe/Lisbon', ...env } },
      (error, out, err) =>
        resolve({ code: error === null ? 0 : Number(error.code ?? 1), out, err }),
    )
  })
}
