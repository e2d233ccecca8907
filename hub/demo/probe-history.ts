import { SECOND } from '../model/clock.ts'
import type { Fault } from '../simulator/faults.ts'
import type { SimulatedProbe } from '../simulator/probe.ts'
import { indexedNoise } from '../simulator/random.ts'
import type { Scenario } from '../simulator/scenario.ts'
import { boots, measuredAt, measurements, uptimeS } from '../simulator/schedule.ts'
import {
  goodbye,
  hello,
  lateMessages,
  liveMessage,
  type Counted,
  type WireMessage,
} from '../simulator/wire-messages.ts'

export interface Delivered extends WireMessage {
  /** When it reached the hub, epoch ms. */
  readonly arrivedAt: number
}

/** One and a half keep-alives: how long a broker waits before it speaks a silent probe's will. */
const WILL_AFTER_MS = 90 * SECOND
const FIRMWARE = { sparse: 'loam 0.3.1', dense: 'loam 0.4.0' } as const

/**
 * Everything one probe sent from its first power-up to the end of the history, in order of arrival:
 * readings as they were measured, and what an outage held back as batches after it.
 */
export function* probeHistory(
  scenario: Scenario,
  simulated: SimulatedProbe,
): Generator<Delivered, void, undefined> {
  const { probe } = simulated
  const delay = indexedNoise(scenario.seed, `${probe.id} delay`)
  /** Time on the way, ms: up to three seconds. */
  const onTheWay = (at: number): number => Math.floor(3 * SECOND * delay.uniform(at / SECOND))
  const outages = probe.faults.filter((fault) => fault.kind === 'outage')
  /** It takes a while to notice that the way is free again. */
  const backAt = (outage: Fault): number => outage.to + 5 * SECOND + 20 * onTheWay(outage.to)

  for (const boot of boots(scenario, probe)) {
    const firmware = boot.intervalMs === scenario.denseMs ? FIRMWARE.dense : FIRMWARE.sparse
    const up = (at: number): number => uptimeS(boot, at, probe.clockError)
    const greet = (at: number): readonly Delivered[] =>
      hello(probe, boot.boot, up(at), boot.intervalMs, firmware).map((message, index) => ({
        ...message,
        arrivedAt: at + 20 * index,
      }))
    yield* greet(boot.from + 4 * SECOND)

    let away: (typeof outages)[number] | undefined
    let held: Counted[] = []
    const count = measurements(boot)
    for (let seq = 0; seq < count; seq++) {
      const at = measuredAt(boot, seq)
      if (away !== undefined && at >= backAt(away)) {
        yield* comeBack(backAt(away), held, greet, up, probe.id)
        away = undefined
        held = []
      }
      if (away === undefined) {
        away = outages.find((fault) => at >= fault.from && at < backAt(fault))
        if (away !== undefined && !away.hubAway) {
          yield { ...goodbye(probe.id, boot.boot), arrivedAt: away.from + WILL_AFTER_MS }
        }
      }
      const one: Counted = { ...simulated.measure(at), boot: boot.boot, seq, uptimeS: up(at) }
      if (away === undefined) {
        yield { ...liveMessage(probe.id, one), arrivedAt: at + onTheWay(at) }
      } else {
        held.push(one)
        // The oldest reading makes room for the newest.
        if (held.length > probe.buffer) held.shift()
      }
    }
    if (away !== undefined && backAt(away) < boot.to) {
      yield* comeBack(backAt(away), held, greet, up, probe.id)
    }
    const cut = probe.faults.some((fault) => fault.kind === 'no power' && fault.from === boot.to)
    if (cut) yield { ...goodbye(probe.id, boot.boot), arrivedAt: boot.to + WILL_AFTER_MS }
  }
}

function* comeBack(
  at: number,
  held: readonly Counted[],
  greet: (at: number) => readonly Delivered[],
  up: (at: number) => number,
  id: string,
): Generator<Delivered, void, undefined> {
  yield* greet(at)
  const sentAt = at + 2 * SECOND
  for (const [index, message] of lateMessages(id, held, up(sentAt)).entries()) {
    yield { ...message, arrivedAt: sentAt + 30 * index }
  }
}
