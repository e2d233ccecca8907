import { ELECTRODE_LIMITS, MOISTURE_LIMITS } from '../../agronomy/electrode-limits.ts'
import { sourceById } from '../../agronomy/sources.ts'
import type { NewCalibration } from '../../model/probe.ts'
import { electrodeLine, residuals } from './electrode.ts'
import { LEAST_WATER_APART, soilLine } from './soil-line.ts'
import { fixed } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

export interface CalibrationVerdict {
  readonly verdict: 'good' | 'usable' | 'reject'
  /** Electrode: per cent of the Nernst slope. */
  readonly slopePercent: number | null
  /** Electrode: EMF at pH 7, mV. */
  readonly offsetMv: number | null
  /** Electrode with three buffers: how far the worst lies off their line, pH, with its sign. */
  readonly residualPh: number | null
  readonly sentence: string
  /** Where the limits come from. */
  readonly source: string
}

/** Whether a calibration can be trusted, and what to do when it cannot. */
export function checkCalibration(calibration: NewCalibration): CalibrationVerdict {
  return calibration.kind === 'electrode' ? checkElectrode(calibration) : checkMoisture(calibration)
}

type Electrode = Extract<NewCalibration, { kind: 'electrode' }>
type Moisture = Extract<NewCalibration, { kind: 'moisture' }>

function checkElectrode(calibration: Electrode): CalibrationVerdict {
  const {
    slopePercent: pass,
    goodSlopePercent: good,
    offsetMv,
    buffersApartPh,
    residualPh,
  } = ELECTRODE_LIMITS
  const source = [pass.source, good.source, buffersApartPh.source]
    .map((id) => sourceById(id).publisher)
    .join('; ')
  const phs = calibration.points.map(({ ph }) => ph)
  const apart = Math.max(...phs) - Math.min(...phs)
  const line = electrodeLine(calibration)
  const slope = 100 * line.slopeFraction
  const offset = line.offsetMv
  if (!Number.isFinite(slope) || !Number.isFinite(offset)) {
    return {
      verdict: 'reject',
      slopePercent: null,
      offsetMv: null,
      residualPh: null,
      sentence: say`The two buffers are the same (pH ${calibration.points[0].ph}); two that lie about ${buffersApartPh.about} pH apart are needed, such as pH 4 and pH 7.`,
      source,
    }
  }
  const off = phs.length < 3 ? [] : residuals(calibration)
  const worst = off.toSorted((a, b) => Math.abs(b) - Math.abs(a))[0] ?? null
  const odd = worst === null ? NaN : phs[off.indexOf(worst)]!
  const figures =
    worst === null
      ? say`Slope ${fixed(slope, 1)} %, ${fixed(offset, 0)} mV at pH 7`
      : say`Slope ${fixed(slope, 1)} %, ${fixed(offset, 0)} mV at pH 7, the three buffers within ${fixed(Math.abs(worst), 2)} pH of one line`
  const answer = (verdict: CalibrationVerdict['verdict'], rest: string): CalibrationVerdict => ({
    verdict,
    slopePercent: slope,
    offsetMv: offset,
    residualPh: worst,
    sentence: `${figures}: ${rest}`,
    source,
  })
  if (apart < buffersApartPh.least) {
    return answer(
      'reject',
      say`the buffers lie only ${fixed(apart, 2)} pH apart, too near to know the slope. Use two that are about ${buffersApartPh.about} pH apart.`,
    )
  }
  if (slope < 0) {
    return answer(
      'reject',
      say`the EMF rises with pH. Either the two buffers are swapped or the electrode is wired the wrong way round.`,
    )
  }
  if (slope < pass.low || slope > pass.high) {
    return answer(
      'reject',
      say`outside the ${pass.low} to ${pass.high} % that a sound electrode shows. Rinse it, let it soak, use fresh buffers and try once more; if it stays there, replace the electrode.`,
    )
  }
  if (Math.abs(offset) > offsetMv.most) {
    return answer(
      'reject',
      say`more than ${offsetMv.most} mV away from zero at pH 7. Check the buffer in use and the junction, let the electrode soak and try once more.`,
    )
  }
  const bend = Math.abs(worst ?? 0)
  if (bend > residualPh.never) {
    return answer(
      'reject',
      say`more than ${residualPh.never} pH off is no line. Most often one buffer is spoilt, mistaken or not settled, here that of pH ${fixed(odd, 2)}: take it anew, or leave it out and keep the two on either side of your soil.`,
    )
  }
  if (bend > residualPh.most) {
    return answer(
      'usable',
      say`more than the ${residualPh.most} pH a buffer may be off. Take the one of pH ${fixed(odd, 2)} anew, or leave it out and keep the two on either side of your soil.`,
    )
  }
  if (slope < good.low || slope > good.high) {
    return answer(
      'usable',
      say`within the accepted ${pass.low} to ${pass.high} %, but a fresh electrode shows ${good.low} to ${good.high} %. Repeat it soon.`,
    )
  }
  return answer('good', say`a sound electrode.`)
}

function checkMoisture(calibration: Moisture): CalibrationVerdict {
  const source = sourceById(MOISTURE_LIMITS.source).publisher
  const span = Math.abs(calibration.dryRaw - calibration.wetRaw)
  const least = MOISTURE_LIMITS.leastSpanCounts
  const answer = (
    verdict: CalibrationVerdict['verdict'],
    sentence: string,
  ): CalibrationVerdict => ({
    verdict,
    slopePercent: null,
    offsetMv: null,
    residualPh: null,
    sentence,
    source,
  })
  if (!(span >= least)) {
    return answer(
      'reject',
      Number.isFinite(span)
        ? say`Dry and wet point are ${fixed(span, 0)} counts apart; at least ${least} are needed to tell dry from wet. Was the probe really dry, then really wet?`
        : say`Dry and wet point are no counts apart; at least ${least} are needed to tell dry from wet. Was the probe really dry, then really wet?`,
    )
  }
  const ends = say`Dry and wet point are ${fixed(span, 0)} counts apart.`
  const points = calibration.soilPoints ?? []
  if (points.length === 0) return answer('good', ends)
  if (points.length === 1) {
    return answer(
      'usable',
      say`${ends} One soil of known water is no line: with a second, drier or wetter one the probe shows water by volume. Until then it shows a share of its range.`,
    )
  }
  const line = soilLine(calibration)
  if (line === null) {
    return answer(
      'reject',
      say`${ends} The soil points make no line that rises with water: at least ${100 * LEAST_WATER_APART} % of water must lie between the driest and the wettest, and the wetter one must read nearer to the wet point.`,
    )
  }
  const percent = (share: number): string => fixed(100 * Math.max(0, share), 1)
  return answer(
    line.residual > WATER_WITHIN ? 'usable' : 'good',
    points.length === 2
      ? say`${ends} By your own soil, water is ${percent(line.dry)} % by volume at the dry point and ${percent(line.wet)} % at the wet point, through both points.`
      : say`${ends} By your own soil, water is ${percent(line.dry)} % by volume at the dry point and ${percent(line.wet)} % at the wet point, the points within ${percent(line.residual)} % of the line.`,
  )
}

/** Soil points that lie further off their line than this want a look, m3/m3; judgement. */
const WATER_WITHIN = 0.03
