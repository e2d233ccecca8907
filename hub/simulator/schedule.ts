import { DAY, MINUTE, SECOND } from '../model/clock.ts'
import { seededRandom } from './random.ts'
import type { Scenario, ScenarioProbe } from './scenario.ts'

/** One life of a probe between two losses of power. Epoch ms, `from <= t < to`. */
export interface Boot {
  readonly boot: number
  readonly from: number
  readonly to: number
  readonly intervalMs: number
}

/** First measurement after power-up. */
const FIRST_MS = 60 * SECOND
/** Mean time between restarts that nobody planned. */
const RESTART_MEAN_MS = 130 * DAY

/** The boots of a probe from its first power-up to the end of the history, numbered from 1. */
export function boots(scenario: Scenario, probe: ScenarioProbe): readonly Boot[] {
  const random = seededRandom(scenario.seed).split(`boots ${probe.id}`)
  const outages = probe.faults.filter((fault) => fault.kind === 'outage')
  const starts = [probe.from]
  const add = (at: number): void => {
    // What is held back through an outage must not be lost to a restart.
    const held = outages.some((fault) => at >= fault.from - DAY && at < fault.to + DAY)
    if (at > probe.from && at < scenario.now && !held) starts.push(Math.round(at))
  }
  let at = probe.from
  while (at < scenario.denseFrom - 2 * DAY) {
    at += random.exponential(RESTART_MEAN_MS)
    if (at < scenario.denseFrom - 2 * DAY) add(at)
  }
  for (const { from } of probe.placements.slice(1)) add(from)
  // New firmware brings the shorter interval, one probe after the other.
  const firmwareAt = scenario.denseFrom + random.between(0, 30) * MINUTE
  add(firmwareAt)
  const dark = probe.faults.filter((fault) => fault.kind === 'no power')
  for (const fault of dark) add(fault.to)
  const ordered = [...new Set(starts)].toSorted((a, b) => a - b)
  return ordered.map((from, index) => {
    const next = ordered[index + 1] ?? scenario.now
    const out = dark.find((fault) => fault.from >= from && fault.from < next)
    return {
      boot: index + 1,
      from,
      to: out?.from ?? next,
      intervalMs: from >= scenario.denseFrom ? scenario.denseMs : scenario.sparseMs,
    }
  })
}

/** When a boot measures: the k-th reading, and how many there are before the boot ends. */
export function measuredAt(boot: Boot, seq: number): number {
  return boot.from + FIRST_MS + seq * boot.intervalMs
}
export function measurements(boot: Boot): number {
  return Math.max(0, Math.ceil((boot.to - boot.from - FIRST_MS) / boot.intervalMs))
}

/** Uptime a probe reports, whole seconds, with the error of its own clock. */
export function uptimeS(boot: Boot, at: number, clockError: number): number {
  return Math.round(((at - boot.from) / SECOND) * (1 + clockError))
}
