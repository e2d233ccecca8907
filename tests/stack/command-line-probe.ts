import { execFile } from 'node:child_process'
import { promisify } from 'node:util'

const run = promisify(execFile)
/** Rows that fit a batch of one channel. */
const ROWS_MOST = 50
const LIMIT_S = '5'

/** How a broker is reached: unencrypted, or by TLS where there is a file of who vouches for its certificate. */
export interface Way {
  readonly port: number
  readonly ca?: string
}

export interface CommandLineProbe {
  /** From now on it comes in another way. */
  comeBy(way: Way): void
  /** Takes a reading and sends it; one that does not get through is kept, as a probe keeps it. */
  measure(): Promise<void>
  /** Sends what is not acknowledged as batches; resolves to how many readings that leaves. */
  catchUp(): Promise<number>
  /** Readings taken so far: number and value. */
  readonly taken: readonly { readonly n: number; readonly value: number }[]
}

/** What tells mosquitto's clients where to go. */
export const wayIn = ({ port, ca }: Way): string[] => [
  ...['-h', '127.0.0.1', '-p', String(port)],
  ...(ca === undefined ? [] : ['--cafile', ca]),
]

/** A probe made of mosquitto_pub and mosquitto_sub that keeps to the specification: it holds what is not acknowledged. */
export function commandLineProbe(options: {
  readonly id: string
  readonly password: string
  readonly way: Way
}): CommandLineProbe {
  const { id, password } = options
  let { way } = options
  const taken: { n: number; uptimeS: number; value: number }[] = []
  const bootedAt = performance.now()
  let acknowledged = -1
  const account = (): string[] => [...wayIn(way), '-i', id, '-u', id, '-P', password]
  const uptimeS = (): number => Math.floor((performance.now() - bootedAt) / 1000)

  /** Whether the broker took it: no more than that. */
  async function publish(leaf: string, message: unknown): Promise<boolean> {
    const topic = ['-t', `lm1/${id}/up/${leaf}`, '-q', '1', '-m', JSON.stringify(message)]
    try {
      await run('timeout', [LIMIT_S, 'mosquitto_pub', ...account(), ...topic])
      return true
    } catch {
      return false
    }
  }

  async function readAcknowledgement(): Promise<void> {
    const once = ['-C', '1', '-W', '2', '-t', `lm1/${id}/dn/ack`]
    try {
      const { stdout } = await run('timeout', [LIMIT_S, 'mosquitto_sub', ...account(), ...once])
      const { b, n } = JSON.parse(stdout) as { b: number; n: number }
      if (b === 1) acknowledged = Math.max(acknowledged, n)
    } catch {
      // None came: what is held stays held.
    }
  }

  return {
    taken,
    comeBy: (other) => void (way = other),
    async measure() {
      const n = taken.length
      const reading = { n, uptimeS: uptimeS(), value: 1000 + n }
      taken.push(reading)
      await publish('r', { b: 1, n, u: reading.uptimeS, v: { m1: reading.value } })
    },
    async catchUp() {
      await readAcknowledgement()
      const held = taken.filter(({ n }) => n > acknowledged).slice(0, ROWS_MOST)
      if (held.length === 0) return 0
      const rows = held.map((r) => [r.n, r.uptimeS, r.value])
      if (await publish('b', { b: 1, u: uptimeS(), c: ['m1'], r: rows }))
        await readAcknowledgement()
      return taken.length - 1 - acknowledged
    },
  }
}
