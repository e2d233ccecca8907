import { middle } from './kit.ts'
import { openStand } from './intake/trial.ts'
import type { Stand } from './intake/trial.ts'
import type { BenchRow } from './row.ts'

/*
 * The whole way in, from the first message published to the last one on the disk, against the same load on a
 * mosquitto whose one subscriber does nothing.
 */

const MESSAGES = 60_000
const PAIRS = 5
const OPTIONS = { probes: 1000, connections: 4 }
const HOW =
  `median of ${PAIRS} pairs, ${MESSAGES} readings of four values of ${OPTIONS.probes} probes at QoS 1 each; ` +
  'messages a second, hub : mosquitto with a subscriber that does nothing'

const MISSED = {
  why:
    'load, broker, the thread that reads messages and the one that writes share the cores of this machine, and ' +
    'each batch waits for a synchronous write',
  next:
    'run it on a machine that does nothing else; then write the log as columns no wider than they need, half the ' +
    'bytes, and make the rows of a day when it is over or read',
}

interface Rates {
  readonly confirmed: number
  readonly drained: number
}

async function rates(stand: Stand): Promise<Rates> {
  const { begun, taken, settled } = await stand.run({ messages: MESSAGES, rate: 0 })
  const confirmed = MESSAGES / (Math.max(...lasts(taken)) - begun)
  return { confirmed, drained: MESSAGES / (settled - begun) }
}

/** The highest of many, without spreading them over a call. */
function lasts(taken: Float64Array): readonly number[] {
  return [taken.reduce((a, b) => Math.max(a, b), 0)]
}

export async function rows(): Promise<readonly BenchRow[]> {
  await using noop = await openStand('noop', OPTIONS)
  await using external = await openStand('external', OPTIONS)
  await using embedded = await openStand('embedded', OPTIONS)
  const bare: number[] = []
  const ratios = { external: [] as Rates[], embedded: [] as Rates[] }
  for (let pair = 0; pair < PAIRS; pair++) {
    const base = (await rates(noop)).confirmed
    bare.push(base * 1000)
    for (const [name, stand] of [
      ['external', external],
      ['embedded', embedded],
    ] as const) {
      const { confirmed, drained } = await rates(stand)
      ratios[name].push({ confirmed: confirmed / base, drained: drained / base })
    }
  }
  const of = (name: 'external' | 'embedded', what: keyof Rates): number =>
    middle(ratios[name].map((one) => one[what]))
  const more = { unit: '', better: 'more', how: HOW, missed: MISSED } as const
  return [
    {
      what: 'readings confirmed from mosquitto (checked, committed) : bare',
      value: of('external', 'confirmed'),
      target: 0.75,
      stretch: 0.9,
      ...more,
    },
    {
      what: 'the same until settled and rolled up : bare',
      value: of('external', 'drained'),
      target: 0.6,
      stretch: 0.85,
      ...more,
    },
    {
      what: 'readings confirmed by the built-in broker : bare mosquitto',
      value: of('embedded', 'confirmed'),
      target: 0.75,
      stretch: 0.9,
      ...more,
    },
    {
      what: 'the same until settled and rolled up : bare mosquitto',
      value: of('embedded', 'drained'),
      target: 0.6,
      stretch: 0.85,
      ...more,
    },
    {
      what: 'bare mosquitto with a subscriber that does nothing',
      value: middle(bare),
      unit: 'messages/s',
      better: 'more',
      target: null,
      how: 'for the record: what the ratios stand against on this machine',
    },
  ]
}
