import { ELECTRODE_LIMITS, MOISTURE_LIMITS } from '../../agronomy/electrode-limits.ts'
import { sourceById } from '../../agronomy/sources.ts'
import type { NewCalibration } from '../../model/probe.ts'
import { electrodeLine } from './electrode.ts'

export interface CalibrationVerdict {
  readonly verdict: 'good' | 'usable' | 'reject'
  /** Electrode: per cent of the Nernst slope. */
  readonly slopePercent: number | null
  /** Electrode: EMF at pH 7, mV. */
  readonly offsetMv: number | null
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
  const { slopePercent: pass, goodSlopePercent: good, offsetMv, buffersApartPh } = ELECTRODE_LIMITS
  const source = [pass.source, good.source, buffersApartPh.source]
    .map((id) => sourceById(id).publisher)
    .join('; ')
  const apart = Math.abs(calibration.points[0].ph - calibration.points[1].ph)
  const line = electrodeLine(calibration)
  const slope = 100 * line.slopeFraction
  const offset = line.offsetMv
  if (!Number.isFinite(slope) || !Number.isFinite(offset)) {
    return {
      verdict: 'reject',
      slopePercent: null,
      offsetMv: null,
      sentence: `The two buffers are the same (pH ${calibration.points[0].ph}); two that lie about ${buffersApartPh.about} pH apart are needed, such as pH 4 and pH 7.`,
      source,
    }
  }
  const figures = `Slope ${slope.toFixed(1)} %, ${offset.toFixed(0)} mV at pH 7`
  const answer = (verdict: CalibrationVerdict['verdict'], rest: string): CalibrationVerdict => ({
    verdict,
    slopePercent: slope,
    offsetMv: offset,
    sentence: `${figures}: ${rest}`,
    source,
  })
  if (apart < buffersApartPh.least) {
    return answer(
      'reject',
      `the buffers lie only ${apart.toFixed(2)} pH apart, too near to know the slope. Use two that are about ${buffersApartPh.about} pH apart.`,
    )
  }
  if (slope < 0) {
    return answer(
      'reject',
      'the EMF rises with pH. Either the two buffers are swapped or the electrode is wired the wrong way round.',
    )
  }
  if (slope < pass.low || slope > pass.high) {
    return answer(
      'reject',
      `outside the ${pass.low} to ${pass.high} % that a sound electrode shows. Rinse it, let it soak, use fresh buffers and try once more; if it stays there, replace the electrode.`,
    )
  }
  if (Math.abs(offset) > offsetMv.most) {
    return answer(
      'reject',
      `more than ${offsetMv.most} mV away from zero at pH 7. Check the buffer in use and the junction, let the electrode soak and try once more.`,
    )
  }
  if (slope < good.low || slope > good.high) {
    return answer(
      'usable',
      `within the accepted ${pass.low} to ${pass.high} %, but a fresh electrode shows ${good.low} to ${good.high} %. Repeat it soon.`,
    )
  }
  return answer('good', 'a sound electrode.')
}

function checkMoisture(calibration: Moisture): CalibrationVerdict {
  const source = sourceById(MOISTURE_LIMITS.source).publisher
  const span = Math.abs(calibration.dryRaw - calibration.wetRaw)
  const least = MOISTURE_LIMITS.leastSpanCounts
  const rejected = !(span >= least)
  return {
    verdict: rejected ? 'reject' : 'good',
    slopePercent: null,
    offsetMv: null,
    sentence: rejected
      ? `Dry and wet point are ${Number.isFinite(span) ? span.toFixed(0) : 'no'} counts apart; at least ${least} are needed to tell dry from wet. Was the probe really dry, then really wet?`
      : `Dry and wet point are ${span.toFixed(0)} counts apart.`,
    source,
  }
}
