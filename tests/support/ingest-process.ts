import { spawn } from 'node:child_process'
import { once } from 'node:events'
import type { IngestHealth } from '#hub/relay/ingest-health.ts'
import { freePort } from './ports.ts'
import { until } from './until.ts'

/** A process that only takes readings in, started as a user would. */
export interface IngestProcess extends AsyncDisposable {
  readonly pid: number
  readonly output: () => string
  health(): Promise<IngestHealth>
  /** Ends it with a signal and resolves to its exit code. */
  end(signal?: NodeJS.Signals): Promise<number | null>
}

/** Starts it on a free port and waits until it listens at its broker, or `ready` says so. */
export async function startIngestProcess(
  dataDir: string,
  clientId: string,
  env: Readonly<Record<string, string>>,
  ready: (health: IngestHealth) => boolean = ({ broker }) => broker.state === 'up',
): Promise<IngestProcess> {
  const port = await freePort()
  const inherited = Object.fromEntries(
    Object.entries(process.env).filter(([name]) => !name.startsWith('LOAMLINE_')),
  )
  const child = spawn(process.execPath, ['hub/cli/loamline.mjs', 'start'], {
    env: {
      ...inherited,
      LOAMLINE_ROLE: 'ingest',
      LOAMLINE_DATA_DIR: dataDir,
      LOAMLINE_BROKER_CLIENT_ID: clientId,
      LOAMLINE_HTTP_PORT: String(port),
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
  const health = async (): Promise<IngestHealth> =>
    (await (await fetch(`http://127.0.0.1:${port}/api/health`)).json()) as IngestHealth
  async function end(signal: NodeJS.Signals = 'SIGTERM'): Promise<number | null> {
    if (child.exitCode === null && child.signalCode === null) child.kill(signal)
    return ended
  }
  try {
    await until(
      `${clientId} is ready`,
      async () => {
        if (child.exitCode !== null) throw new Error(`it ended (${child.exitCode})`)
        const now = await health().catch(() => null)
        return now !== null && ready(now)
      },
      20_000,
    )
  } catch (error) {
    await end('SIGKILL')
    throw new Error(`${(error as Error).message}\n${output}`, { cause: error })
  }
  return {
    pid: child.pid!,
    output: () => output,
    health,
    end,
    async [Symbol.asyncDispose]() {
      await end('SIGKILL')
    },
  }
}
