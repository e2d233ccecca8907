import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { createHash } from 'node:crypto'
import { readdirSync, readFileSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { freePort } from '../../support/ports.ts'

/** Starts the hub as a user would where it is expected to refuse; resolves when it has ended. */
export async function refusedStart(
  dataDir: string,
  env: Readonly<Record<string, string>> = {},
  withinMs = 20_000,
): Promise<{ readonly code: number | null; readonly output: string }> {
  const child = spawn(process.execPath, ['hub/cli/loamline.mjs', 'start'], {
    env: {
      PATH: process.env['PATH'],
      LOAMLINE_DATA_DIR: dataDir,
      LOAMLINE_HTTP_PORT: String(await freePort()),
      LOAMLINE_MQTT_PORT: String(await freePort()),
      ...env,
    },
    stdio: ['ignore', 'pipe', 'pipe'],
  })
  let output = ''
  for (const stream of [child.stdout, child.stderr])
    stream.on('data', (chunk: Buffer) => (output += chunk.toString()))
  const timer = setTimeout(() => child.kill('SIGKILL'), withinMs)
  const [code] = (await once(child, 'close')) as [number | null]
  clearTimeout(timer)
  return { code, output }
}

/** Digest of every file of a folder, by name; what changes a file changes it. */
export function digests(folder: string): Readonly<Record<string, string>> {
  return Object.fromEntries(
    readdirSync(folder)
      .filter((name) => statSync(join(folder, name)).isFile() && !name.startsWith('hub.lock'))
      .toSorted()
      .map((name) => [
        name,
        createHash('sha256')
          .update(readFileSync(join(folder, name)))
          .digest('hex'),
      ]),
  )
}
