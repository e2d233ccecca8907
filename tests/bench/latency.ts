import { openStand } from './intake/trial.ts'
import type { Stand } from './intake/trial.ts'
import { middle } from './kit.ts'
import type { BenchRow } from './row.ts'

/*
 * How long a reading takes from being published to being confirmed as stored, at a steady rate, while the hub
 * settles and rolls up what came before; against the same load on a mosquitto whose subscriber does nothing.
 */

const OPTIONS = { probes: 1000, connections: 1 }
const LOADS = [
  { rate: 100, messages: 600 },
  { rate: 5000, messages: 20_000 },
]
const PAIRS = 5
/** A 99th percentile below this is fine whatever the ratio, ms. */
const FINE_P99_MS = 25

const MISSED = {
  why:
    'the delay is that of a synchronous write of the disk: a commit on a disk that others write to, too, takes ' +
    'milliseconds whatever the hub does',
  next: 'measure on a disk of its own; put the log of the intake on a faster one than the readings',
}

interface Delay {
  readonly p50: number
  readonly p99: number
}

async function delay(stand: Stand, load: (typeof LOADS)[number]): Promise<Delay> {
  const { sent, taken } = await stand.run(load)
  const sorted = taken.map((at, k) => at - sent[k]!).toSorted()
  const at = (part: number): number => sorted[Math.floor((sorted.length - 1) * part)]!
  return { p50: at(0.5), p99: at(0.99) }
}

export async function rows(): Promise<readonly BenchRow[]> {
  await using noop = await openStand('noop', OPTIONS)
  await using external = await openStand('external', OPTIONS)
  await using embedded = await openStand('embedded', OPTIONS)
  const all: BenchRow[] = []
  for (const load of LOADS) {
    const bare: Delay[] = []
    const hub = { external: [] as Delay[], embedded: [] as Delay[] }
    for (let pair = 0; pair < PAIRS; pair++) {
      bare.push(await delay(noop, load))
      hub.external.push(await delay(external, load))
      hub.embedded.push(await delay(embedded, load))
    }
    for (const [front, delays] of [
      ['from mosquitto', hub.external],
      ['by the built-in broker', hub.embedded],
    ] as const) {
      const ratio = (what: keyof Delay): number =>
        middle(delays.map((one, pair) => one[what] / bare[pair]![what]))
      const ms = (of: readonly Delay[], what: keyof Delay): string =>
        `${middle(of.map((one) => one[what])).toFixed(2)} ms`
      const how = (what: keyof Delay): string =>
        `median of ${PAIRS} pairs, ${load.messages} readings of ${OPTIONS.probes} probes: ` +
        `${ms(delays, what)} to confirmed : ${ms(bare, what)} to a subscriber that does nothing`
      const what = `confirmed ${front} at ${load.rate} a second`
      const p99 = middle(delays.map((one) => one.p99))
      all.push({
        what: `${what}, middle delay : bare mosquitto`,
        value: ratio('p50'),
        unit: '',
        better: 'less',
        target: 6,
        how: how('p50'),
        missed: MISSED,
      })
      all.push({
        what: `${what}, 99 of 100 : bare mosquitto (or at most ${FINE_P99_MS} ms)`,
        // Whichever is larger is allowed: a delay that is fine by itself counts as the ratio that is.
        value: p99 <= FINE_P99_MS ? Math.min(ratio('p99'), 8) : ratio('p99'),
        unit: '',
        better: 'less',
        target: 8,
        how: how('p99'),
        missed: MISSED,
      })
    }
  }
  return all
}
