import { fork } from 'node:child_process'
import { once } from 'node:events'
import { freePort } from '../../support/ports.ts'
import { until } from '../../support/until.ts'

/** A hub whose clock can be set. */
export interface ClockedHub extends AsyncDisposable {
  readonly mqttPort: number
  readonly output: () => string
  /** What its clock says, epoch ms. */
  now(): number
  /** Moves its clock by so much from where it stands now. */
  jump(ms: number): void
  get<T>(path: string): Promise<T>
  send(method: 'POST' | 'PUT', path: string, body: unknown): Promise<Response>
  end(): Promise<number | null>
}

export async function startClockedHub(folder: string, offset = 0): Promise<ClockedHub> {
  const [httpPort, mqttPort] = [await freePort(), await freePort()]
  let offsetMs = offset
  const child = fork('tests/faults/support/clocked-hub.ts', [], {
    execArgv: [],
    env: {
      PATH: process.env['PATH'],
      TEST_CLOCK_OFFSET_MS: String(offset),
      LOAMLINE_DATA_DIR: folder,
      LOAMLINE_HTTP_PORT: String(httpPort),
      LOAMLINE_MQTT_PORT: String(mqttPort),
      LOAMLINE_PROBE_LIMIT: '0',
      LOAMLINE_ZONE: 'Europe/Lisbon',
    },
    stdio: ['ignore', 'pipe', 'pipe', 'ipc'],
  })
  let output = ''
  let up = false
  for (const stream of [child.stdout, child.stderr])
    stream?.on('data', (chunk: Buffer) => (output += chunk.toString()))
  child.on('message', () => (up = true))
  const exit = once(child, 'exit')
  await until(
    'the hub is up',
    () => {
      if (child.exitCode !== null) throw new Error(`the hub ended: ${output}`)
      return up
    },
    30_000,
  )
  const url = `http://127.0.0.1:${httpPort}`
  return {
    mqttPort,
    output: () => output,
    now: () => Date.now() + offsetMs,
    jump(ms) {
      offsetMs += ms
      child.send({ offsetMs })
    },
    async get<T>(path: string) {
      const response = await fetch(url + path)
      if (!response.ok) throw new Error(`GET ${path}: ${response.status} ${await response.text()}`)
      return (await response.json()) as T
    },
    send: (method, path, body) =>
      fetch(url + path, {
        method,
        body: JSON.stringify(body),
        headers: { 'content-type': 'application/json' },
      }),
    async end() {
      child.kill('SIGTERM')
      await exit
      return child.exitCode
    },
    async [Symbol.asyncDispose]() {
      if (child.exitCode === null && child.signalCode === null) child.kill('SIGKILL')
      await exit
    },
  }
}
