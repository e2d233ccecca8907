import { CALIBRATE_EVERY } from '../../agronomy/electrode-limits.ts'
import { DAY } from '../../model/clock.ts'
import { say, toSay } from '../../words/say.ts'
import type { ProbeLook } from '../probe-look.ts'
import { NO_CHANGE } from './no-change.ts'
import type { Condition, Rule, Verdict } from './rule.ts'

/** Electrodes in the soil want fresh buffers every 30 days (common practice, no source). */
const EVERY_MS = CALIBRATE_EVERY.days * DAY
/**
 * On-delay: the page of the probe and the calendar have reminded for so long. Electrodes drift by about 0.1 pH in 30
 * days (see `electrodeDrift`): by now it is as much as a deadband of the other rules.
 */
const ON_DELAY_MS = 30 * DAY

/** The last calibration of an electrode is older than it should be. One never calibrated is told on its page. */
export const calibrationDue: Rule<ProbeLook> = {
  kind: 'calibration-due',
  priority: 'low',
  // No off-delay and no deadband: a calibration is written down, and age only grows.
  offDelayMs: 0,
  arises: (look) => (isDue(look, ON_DELAY_MS) ? [condition(look)] : []),
  review(_, look): Verdict {
    return isDue(look, 0) ? { status: 'holds', condition: condition(look) } : { status: 'clear' }
  },
  returned: toSay('The electrode was calibrated.'),
}

function isDue({ bedId, calibratedAt, at }: ProbeLook, late: number): boolean {
  return bedId !== null && calibratedAt !== null && at - calibratedAt >= EVERY_MS + late
}

function condition({ bed, name, spot, probe, calibratedAt }: ProbeLook): Condition {
  return {
    subject: probe,
    evidence: {
      ...NO_CHANGE,
      spotsMoved: [spot],
      figures: [
        { what: 'calibrated-at', value: calibratedAt!, halfWidth: null, unit: 'at' },
        { what: 'due-at', value: calibratedAt! + EVERY_MS, halfWidth: null, unit: 'at' },
      ],
    },
    sentence: say`${bed}: the electrode of probe ${name} (${spot}) has not been in buffers for two months or more. Its pH may be off by 0.1 to 0.3.`,
    advice: say`Calibrate it in two fresh buffer solutions about 3 pH apart; the page of the probe leads through it. Rinse the electrode with distilled water between them, and never pour used buffer back.`,
  }
}
