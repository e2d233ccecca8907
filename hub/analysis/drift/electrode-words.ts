import type { Insufficient } from '../assessment.ts'
import type { ElectrodeDrift } from './electrode-drift.ts'
import type { SoilTrend } from './soil-trend.ts'

export type ElectrodeVerdict =
  | 'electrode drifts'
  | 'soil drifts'
  | 'both'
  | 'steady'
  | 'cannot tell'

/** What one electrode does, and whether the bed does the same. */
export function electrodeWords(
  electrode: { readonly probe: string; readonly drift: ElectrodeDrift | Insufficient },
  trend: SoilTrend | Insufficient,
): { verdict: ElectrodeVerdict; sentence: string; grounds: string[] } {
  const { probe, drift } = electrode
  const soilDrifts = trend.status === 'ok' && trend.verdict !== 'steady'
  if (drift.status === 'insufficient') {
    return {
      verdict: 'cannot tell',
      sentence: `Whether ${probe} drifts cannot be told: ${drift.have}. Needed: ${drift.need}.`,
      grounds: [],
    }
  }
  const reach = (drift.high - drift.low) / 2
  const rate = `${Math.abs(drift.per30Days).toFixed(2)} ± ${reach.toFixed(2)} pH in 30 days`
  const grounds = [
    `Compared with ${drift.peers === 1 ? 'one other spot' : `${drift.peers} other spots`} over ${drift.days} days since it was last calibrated.`,
    'What all electrodes share cannot be seen that way; the usual drift of such electrodes (0.09 ± 0.08 pH in 30 days) is allowed for.',
  ]
  if (!drift.drifts) {
    return {
      verdict: soilDrifts ? 'soil drifts' : 'cannot tell',
      sentence: `${probe} may drift by ${drift.per30Days < 0 ? '−' : '+'}${rate}, as such electrodes do; nothing or next to nothing is just as possible. Two buffers settle it.`,
      grounds,
    }
  }
  return {
    verdict: soilDrifts ? 'both' : 'electrode drifts',
    sentence: `${probe} drifts by ${drift.per30Days < 0 ? '−' : '+'}${rate}: that is the electrode, not the bed. Calibrate it in two fresh buffers; what it has read is then put right.`,
    grounds,
  }
}
