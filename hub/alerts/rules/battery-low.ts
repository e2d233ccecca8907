import { HOUR } from '../../model/clock.ts'
import { fixed } from '../../words/figure.ts'
import { say, toSay } from '../../words/say.ts'
import type { ProbeLook } from '../probe-look.ts'
import { NO_CHANGE } from './no-change.ts'
import type { Condition, Rule, Verdict } from './rule.ts'

/** On-delay: so many newest readings in a row; a cell sags for one reading when the radio sends. */
const IN_A_ROW = 3
/**
 * Deadband: a level must be this much above its limit to be well again, as a share of the limit. A cell recovers by
 * some per cent when it rests or gets warm (common practice, no source).
 */
const WELL_FROM = 1.05
/** Off-delay: a charged or changed battery shows at once; a warm afternoon does not last the night. */
const OFF_DELAY_MS = 12 * HOUR

/**
 * The probe says itself that its supply is low (flag 4 of the wire format), or its level is below the limit: 10 %
 * left, or 0.85 of the best that its battery has had where it is a voltage (see `lowBelow`, `sinceNewBattery`).
 */
export const batteryLow: Rule<ProbeLook> = {
  kind: 'battery-low',
  priority: 'low',
  offDelayMs: OFF_DELAY_MS,
  arises(look) {
    const { told, levels, lowBelow } = look.supply
    const bySelf = told.length >= IN_A_ROW && told.slice(0, IN_A_ROW).every(Boolean)
    const byLevel =
      levels.length >= IN_A_ROW && levels.slice(0, IN_A_ROW).every((level) => level < lowBelow)
    return look.bedId !== null && (bySelf || byLevel) ? [condition(look)] : []
  },
  review(_, look): Verdict {
    const { told, levels, lowBelow } = look.supply
    if (told.length === 0 && levels.length === 0) return { status: 'unknown' }
    const well =
      !told.slice(0, IN_A_ROW).includes(true) &&
      !levels.slice(0, IN_A_ROW).some((level) => level < WELL_FROM * lowBelow)
    return well ? { status: 'clear' } : { status: 'holds', condition: condition(look) }
  },
  returned: toSay('The supply of the probe is well again.'),
}

function condition(look: ProbeLook): Condition {
  const { bed, name, spot, supply } = look
  const level = supply.levels[0]
  const shown =
    level === undefined ? '' : supply.unit === 'V' ? `${fixed(level, 2)} V` : `${fixed(level, 0)} %`
  return {
    subject: look.probe,
    evidence: {
      ...NO_CHANGE,
      spotsMoved: [spot],
      figures:
        level === undefined
          ? []
          : [
              { what: 'supply', value: level, halfWidth: null, unit: supply.unit },
              ...(Number.isFinite(supply.lowBelow)
                ? [
                    {
                      what: 'supply-limit',
                      value: supply.lowBelow,
                      halfWidth: null,
                      unit: supply.unit,
                    } as const,
                  ]
                : []),
            ],
    },
    sentence:
      level === undefined
        ? say`${bed}: probe ${name} (${spot}) says that its supply is low.`
        : say`${bed}: the battery of probe ${name} (${spot}) is low: ${shown}.`,
    advice: say`Charge or change the battery within the next days; when it is empty, the bed is watched by one probe less. A low supply pulls the readings too: do not act on them alone. Keep batteries dry, and take used ones where they are collected.`,
  }
}
