import type { Insufficient } from '../assessment.ts'
import type { CalibrationJumps } from './calibration-jumps.ts'
import type { ElectrodeDrift } from './electrode-drift.ts'
import type { SampleWitness } from './sample-witness.ts'
import type { SoilTrend } from './soil-trend.ts'
import { signed, trendVerdict } from './trend-verdict.ts'
import { fixed, counted } from '../../words/figure.ts'
import { said, say, toSay } from '../../words/say.ts'

export type ElectrodeVerdict =
  | 'electrode drifts'
  | 'soil drifts'
  | 'both'
  | 'steady'
  | 'cannot tell'

/** Drift within this either way, pH per 30 days, and an electrode is called steady. */
const STEADY_WITHIN = 0.05
const DAYS_A_YEAR = 365
/** Share of a trend that samples must lay to the electrodes before it is not called the soil's. */
const MOSTLY = 0.5

/** What bears witness of one electrode. */
export interface ElectrodeEvidence {
  readonly probe: string
  /** Newest calibration, epoch ms; null when none is known. */
  readonly since: number | null
  /** Against the neighbouring spots. */
  readonly drift: ElectrodeDrift | Insufficient
  /** By what its own calibrations took away. */
  readonly jumps: CalibrationJumps | Insufficient
}

interface Rate {
  readonly per30Days: number
  readonly low: number
  readonly high: number
  readonly drifts: boolean
}

/** What one electrode does, and whether the bed does the same: its neighbours, calibrations and samples are heard. */
export function electrodeWords(
  electrode: ElectrodeEvidence,
  trend: SoilTrend | Insufficient,
  samples: SampleWitness | Insufficient,
): { verdict: ElectrodeVerdict; sentence: string; grounds: string[] } {
  const { probe, drift, jumps } = electrode
  const soil = soilDrifts(electrode, trend, samples)
  const grounds = [...neighbourGrounds(drift), ...jumpGrounds(jumps), ...soil.grounds]
  const rates: Rate[] = [drift, jumps].flatMap((rate) => (rate.status === 'ok' ? rate : []))
  const together = samples.status === 'ok' && samples.drifts
  // The narrower of the two says how fast.
  const best = rates.toSorted((a, b) => a.high - a.low - (b.high - b.low))[0]
  const found = rates
    .filter(({ drifts }) => drifts)
    .toSorted((a, b) => a.high - a.low - (b.high - b.low))[0]
  // Two witnesses that contradict each other decide nothing.
  const contradicted =
    found !== undefined && rates.some(({ low, high }) => low > found.high || high < found.low)
  if (found !== undefined && !contradicted) {
    return {
      verdict: soil.answer === 'yes' ? 'both' : 'electrode drifts',
      sentence: say`${probe} drifts by ${rateText(found)}: that is the electrode, not the bed. Calibrate it in two fresh buffers; what it reads from then on is right again.`,
      grounds,
    }
  }
  if (together) {
    return {
      verdict: soil.answer === 'yes' ? 'both' : 'electrode drifts',
      sentence: say`${probe} and the other probes of the bed drift away from the samples together, by ${rateText(samples)}. Calibrate them in two fresh buffers.`,
      grounds,
    }
  }
  const verdict = soil.answer === 'yes' ? 'soil drifts' : 'cannot tell'
  if (best === undefined) {
    const missing = drift.status === 'insufficient' ? drift : { have: '', need: '' }
    return {
      verdict,
      sentence:
        soil.answer === 'yes'
          ? say`${probe} by itself cannot be judged (${missing.have}), but what the bed does is not the doing of its electrodes.`
          : say`Whether ${probe} drifts cannot be told: ${missing.have}. Needed: ${missing.need}.`,
      grounds,
    }
  }
  if (contradicted) {
    return {
      verdict,
      sentence: say`Neighbours and calibrations say different things of ${probe}: two buffers settle it.`,
      grounds,
    }
  }
  if (best.low > -STEADY_WITHIN && best.high < STEADY_WITHIN) {
    return {
      verdict: soil.answer === 'yes' ? 'soil drifts' : 'steady',
      sentence: say`${probe} keeps steady: it drifts by no more than ${fixed(Math.max(-best.low, best.high), 2)} pH in 30 days.`,
      grounds,
    }
  }
  return {
    verdict,
    sentence:
      best.low <= 0 && best.high >= 0
        ? say`${probe} may drift by anything between ${signed(best.low)} and ${signed(best.high)} pH in 30 days; nothing is just as possible. Two buffers settle it.`
        : say`${probe} may drift by anything between ${signed(best.low)} and ${signed(best.high)} pH in 30 days; little is just as possible. Two buffers settle it.`,
    grounds,
  }
}

const TREND = { rising: toSay('rising'), falling: toSay('falling') } as const

const rateText = ({ per30Days, low, high }: Rate): string =>
  say`${signed(per30Days)} ± ${fixed((high - low) / 2, 2)} pH in 30 days`

/** Whether the bed itself drifts, as far as electrodes cannot have made it up. */
function soilDrifts(
  { since }: ElectrodeEvidence,
  trend: SoilTrend | Insufficient,
  samples: SampleWitness | Insufficient,
): { answer: 'yes' | 'no' | 'unknown'; grounds: string[] } {
  if (trend.status === 'insufficient') {
    return { answer: 'unknown', grounds: [say`Whether the soil drifts is not known yet.`] }
  }
  const verdict = trendVerdict(trend)
  if (verdict === 'cannot tell') {
    return { answer: 'unknown', grounds: [say`Whether the soil drifts cannot be told yet.`] }
  }
  if (verdict === 'steady') return { answer: 'no', grounds: [say`The bed as a whole is steady.`] }
  if (samples.status === 'ok') {
    const theirs = (samples.per30Days * DAYS_A_YEAR) / 30
    if (samples.drifts && theirs / trend.perYear > MOSTLY) {
      return {
        answer: 'no',
        grounds: [
          say`The bed is ${said(TREND[verdict])}, but against samples that is the doing of its electrodes.`,
        ],
      }
    }
    if (!samples.drifts) {
      return {
        answer: 'yes',
        grounds: [
          say`The bed is ${said(TREND[verdict])}, and samples show no drift of its electrodes.`,
        ],
      }
    }
  }
  return uncalibratedIn(trend, [since])
    ? {
        answer: 'unknown',
        grounds: [
          say`The bed is ${said(TREND[verdict])}, but without a calibration in the later half of that time its electrodes may have done it.`,
        ],
      }
    : { answer: 'yes', grounds: [say`The bed is ${said(TREND[verdict])}, calibrations between.`] }
}

/** Whether no probe is known to have been calibrated in the later half of the record. */
export function uncalibratedIn(
  { from, to }: Pick<SoilTrend, 'from' | 'to'>,
  since: readonly (number | null)[],
): boolean {
  return since.length > 0 && since.every((at) => at === null || at < (from + to) / 2)
}

function neighbourGrounds(drift: ElectrodeDrift | Insufficient): string[] {
  if (drift.status === 'insufficient') return []
  return [
    say`Compared with ${counted(drift.peers, 'other probe')} over ${drift.days} days since it was last calibrated: ${rateText(drift)}.`,
    say`What all electrodes share cannot be seen that way; the usual drift of such electrodes (0.09 ± 0.08 pH in 30 days) is allowed for.`,
  ]
}

function jumpGrounds(jumps: CalibrationJumps | Insufficient): string[] {
  if (jumps.status === 'insufficient') return []
  return [
    say`${counted(jumps.jumps, 'visit')} to it (calibration, service) moved its reading (the newest by ${signed(jumps.newest)}): between them it drifted by ${rateText(jumps)}.`,
  ]
}
