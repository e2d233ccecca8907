import { fork } from 'node:child_process'
import type { ChildProcess } from 'node:child_process'
import { once } from 'node:events'
import { fileURLToPath } from 'node:url'
import { startBroker } from '../../support/broker.ts'
import { freePort } from '../../support/ports.ts'
import { tempDir } from '../../support/temp-dir.ts'
import type { Order, Report } from './publisher.ts'
import type { Told } from './taker.ts'

/** Who takes what is published: nobody but a subscriber that does nothing, or the hub. */
export type Taker = 'noop' | 'external' | 'embedded'

/** What one run of one taker showed; times in ms of the machine's monotonic clock. */
export interface Trial {
  readonly begun: number
  /** When each message was written, and when it was taken or confirmed. */
  readonly sent: Float64Array
  readonly taken: Float64Array
  readonly settled: number
  /** Processor time of the taker, all its threads. */
  readonly cpuMs: number
}

/** Processes of one taker, warm: every probe has spoken. */
export interface Stand extends AsyncDisposable {
  run(load: { readonly messages: number; readonly rate: number }): Promise<Trial>
}

/** As `npm start` starts the hub. */
const HUB_FLAGS: readonly string[] = ['--max-semi-space-size=8']

const child = (
  file: string,
  args: readonly string[] = [],
  flags: readonly string[] = [],
): ChildProcess =>
  fork(fileURLToPath(new URL(file, import.meta.url)), args, {
    execArgv: [...flags, ...(process.env['BENCH_FLAGS']?.split(' ') ?? [])],
    serialization: 'advanced',
  })

/** The next message of a process; rejects when it ends instead. */
async function told<T>(from: ChildProcess): Promise<T> {
  const over = new AbortController()
  const { signal } = over
  try {
    const [message] = (await Promise.race([
      once(from, 'message', { signal }),
      once(from, 'exit', { signal }).then(([code]) => {
        throw new Error(`a process of the bench ended with ${String(code)}`)
      }),
    ])) as [T]
    return message
  } finally {
    over.abort()
  }
}

export async function openStand(
  taker: Taker,
  options: { readonly probes: number; readonly connections: number },
): Promise<Stand> {
  const folder = tempDir()
  const broker = taker === 'embedded' ? null : await startBroker()
  const port = broker?.port ?? (await freePort())
  const where = taker === 'embedded' ? String(port) : `mqtt://127.0.0.1:${port}`
  const flags = taker === 'noop' ? [] : HUB_FLAGS
  const end = child('taker.ts', [taker, where, folder.path, String(options.probes)], flags)
  const source = child('publisher.ts')
  let up = false
  while (!up) up = (await told<Told>(end)).kind === 'up'
  let first = 0

  const run = async ({ messages, rate }: { messages: number; rate: number }): Promise<Trial> => {
    end.send({ messages })
    const order: Order = { port, messages, first, rate, ...options }
    first += Math.ceil(messages / options.probes)
    const [report, news] = await Promise.all([
      (source.send(order), told<Report>(source)),
      told<Told>(end),
    ])
    if (news.kind !== 'taken') throw new Error('expected the time of every message')
    return {
      begun: report.begun,
      sent: report.sent,
      taken: taker === 'embedded' ? report.confirmed : news.at,
      settled: news.settled,
      cpuMs: news.cpuMs,
    }
  }
  await run({ messages: options.probes * 2, rate: 0 })
  return {
    run,
    async [Symbol.asyncDispose]() {
      for (const process of [end, source]) {
        process.disconnect()
        await once(process, 'exit')
      }
      await broker?.close()
      folder[Symbol.dispose]()
    },
  }
}
