import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { freePort } from '../../support/ports.ts'
import { until } from '../../support/until.ts'

/*
 * The hub on a disk of its own of a few megabytes: a tmpfs in a private mount namespace, made for it alone and gone
 * with it. Nothing of the machine's own mounts changes. Without root a private user namespace gives the right to it.
 */

export interface HubOnSmallDisk extends AsyncDisposable {
  readonly url: string
  readonly mqttPort: number
  readonly pid: number
  readonly output: () => string
  /** The data folder as this process sees it. */
  readonly folder: string
  /** Takes all the room there is left. */
  fill(): void
  /** Gives it back. */
  free(): void
  get<T>(path: string): Promise<{ readonly status: number; readonly body: T }>
  send(path: string, body: unknown): Promise<Response>
  /** Resolves to its exit code when it has ended. */
  readonly ended: Promise<number | null>
  end(signal?: NodeJS.Signals): Promise<number | null>
}

const MOUNT = '/mnt'
const CHUNK = Buffer.alloc(64 * 1024)

export async function startHubOnSmallDisk(options: {
  readonly megabytes: number
  /** What is copied onto the disk before it is used. @default nothing */
  readonly from?: string
  /** No room is left when the hub starts. @default false */
  readonly full?: boolean
  /** Mounted for reading alone. @default false */
  readonly readOnly?: boolean
  readonly env?: Readonly<Record<string, string>>
  /** The hub is expected to refuse. @default false */
  readonly refuses?: boolean
}): Promise<HubOnSmallDisk> {
  const httpPort = await freePort()
  const mqttPort = await freePort()
  const root = process.getuid?.() === 0
  const script = [
    'set -e',
    `mount -t tmpfs -o size=${options.megabytes}m loamline-test ${MOUNT}`,
    `mkdir ${MOUNT}/data`,
    ...(options.from === undefined ? [] : [`cp -a "${options.from}/." ${MOUNT}/data/`]),
    ...(options.full === true
      ? [`dd if=/dev/zero of=${MOUNT}/filler bs=4096 2>/dev/null || true`]
      : []),
    ...(options.readOnly === true ? [`mount -o remount,ro ${MOUNT}`] : []),
    'exec "$@"',
  ].join('\n')
  const child = spawn(
    'unshare',
    [
      ...(root ? ['--mount'] : ['--mount', '--user', '--map-root-user']),
      '--',
      'sh',
      '-c',
      script,
      'sh',
      process.execPath,
      'hub/cli/loamline.mjs',
      'start',
    ],
    {
      env: {
        PATH: process.env['PATH'],
        LOAMLINE_DATA_DIR: `${MOUNT}/data`,
        LOAMLINE_HTTP_PORT: String(httpPort),
        LOAMLINE_MQTT_PORT: String(mqttPort),
        LOAMLINE_PROBE_LIMIT: '0',
        LOAMLINE_ZONE: 'Europe/Lisbon',
        ...options.env,
      },
      stdio: ['ignore', 'pipe', 'pipe'],
    },
  )
  let output = ''
  for (const stream of [child.stdout, child.stderr])
    stream.on('data', (chunk: Buffer) => (output += chunk.toString()))
  const ended = once(child, 'close').then(([code]) => code as number | null)
  const url = `http://127.0.0.1:${httpPort}`
  const end = async (signal: NodeJS.Signals = 'SIGTERM'): Promise<number | null> => {
    if (child.exitCode === null && child.signalCode === null) child.kill(signal)
    return ended
  }
  const folder = `/proc/${child.pid}/root${MOUNT}/data`
  const filler = join(folder, '..', 'filler')
  if (options.refuses !== true) {
    try {
      await until(
        'the hub answers',
        async () => {
          if (child.exitCode !== null) throw new Error(`the hub ended (${child.exitCode})`)
          return (await fetch(`${url}/api/who`).catch(() => null))?.ok
        },
        30_000,
      )
    } catch (error) {
      await end('SIGKILL')
      throw new Error(`${(error as Error).message}\n${output}`, { cause: error })
    }
  }
  return {
    url,
    mqttPort,
    pid: child.pid!,
    output: () => output,
    folder,
    fill() {
      for (const size of [CHUNK.length, 512]) {
        try {
          for (;;) writeFileSync(filler, CHUNK.subarray(0, size), { flag: 'a' })
        } catch (error) {
          if ((error as NodeJS.ErrnoException).code !== 'ENOSPC') throw error
        }
      }
    },
    free: () => rmSync(filler),
    async get<T>(path: string) {
      const response = await fetch(url + path)
      return { status: response.status, body: (await response.json()) as T }
    },
    send: (path, body) =>
      fetch(url + path, {
        method: 'POST',
        body: JSON.stringify(body),
        headers: { 'content-type': 'application/json' },
      }),
    ended,
    end,
    async [Symbol.asyncDispose]() {
      await end('SIGKILL')
    },
  }
}
