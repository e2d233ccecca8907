import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { freePort } from './ports.ts'
import { until } from './until.ts'

export interface HubProcess extends AsyncDisposable {
  readonly url: string
  readonly mqttPort: number
  /** Everything it wrote so far. */
  readonly output: () => string
  readonly pid: number
  /** GET of the API as JSON. */
  get<T>(path: string): Promise<T>
  send(method: 'POST' | 'PUT' | 'DELETE', path: string, body?: unknown): Promise<Response>
  /** Ends it with a signal and resolves to its exit code. */
  end(signal?: NodeJS.Signals): Promise<number | null>
}

/** Starts the hub as a user would, on free ports, and waits until its API answers. */
export async function startHub(
  command: 'start' | 'demo',
  dataDir: string,
  env: Readonly<Record<string, string>> = {},
): Promise<HubProcess> {
  const httpPort = env['LOAMLINE_HTTP_PORT'] ?? String(await freePort())
  const mqttPort = env['LOAMLINE_MQTT_PORT'] ?? String(await freePort())
  const inherited = Object.fromEntries(
    Object.entries(process.env).filter(([name]) => !name.startsWith('LOAMLINE_')),
  )
  const child = spawn(process.execPath, ['hub/cli/loamline.mjs', command], {
    env: {
      ...inherited,
      LOAMLINE_DATA_DIR: dataDir,
      LOAMLINE_HTTP_PORT: httpPort,
      LOAMLINE_MQTT_PORT: mqttPort,
      LOAMLINE_ZONE: 'Europe/Lisbon',
      ...env,
    },
    stdio: ['ignore', 'pipe', 'pipe'],
  })
  let output = ''
  for (const stream of [child.stdout, child.stderr]) {
    stream.on('data', (chunk: Buffer) => {
      output += chunk.toString()
    })
  }
  const ended = once(child, 'exit').then(([code]) => code as number | null)
  // The last it wrote may come after its end.
  const silent = once(child, 'close')
  // Pages answer a moment before the ports of the probes are open, and the demo makes its history after both.
  const isUp = (): boolean => command === 'demo' || output.includes('Dashboard')
  const url = `http://127.0.0.1:${httpPort}`

  async function end(signal: NodeJS.Signals = 'SIGTERM'): Promise<number | null> {
    if (child.exitCode === null && child.signalCode === null) child.kill(signal)
    return ended
  }
  try {
    await until(
      'the hub answers',
      async () => {
        if (child.exitCode !== null) {
          await silent
          throw new Error(`the hub ended (${child.exitCode}):\n${output}`)
        }
        return isUp() && (await fetch(`${url}/api/who`).catch(() => null))?.ok
      },
      20_000,
    )
  } catch (error) {
    await end('SIGKILL')
    throw new Error(`${(error as Error).message}\n${output}`, { cause: error })
  }

  return {
    url,
    mqttPort: Number(mqttPort),
    output: () => output,
    pid: child.pid!,
    async get<T>(path: string): Promise<T> {
      const response = await fetch(url + path)
      if (!response.ok) throw new Error(`GET ${path}: ${response.status} ${await response.text()}`)
      return (await response.json()) as T
    },
    send: (method, path, body) =>
      fetch(url + path, {
        method,
        ...(body === undefined
          ? {}
          : { body: JSON.stringify(body), headers: { 'content-type': 'application/json' } }),
      }),
    end,
    async [Symbol.asyncDispose]() {
      await end('SIGKILL')
    },
  }
}
