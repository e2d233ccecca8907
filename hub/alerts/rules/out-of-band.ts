import type { BedLook } from '../../analysis/assessment.ts'
import { bandText, ph1 } from '../../analysis/format.ts'
import { DAY, HOUR } from '../../model/clock.ts'
import { said, say } from '../../words/say.ts'
import { toSay } from '../../words/say.ts'
import { surenessText } from '../message.ts'
import { withoutBand } from './basis-gone.ts'
import { NO_CHANGE } from './no-change.ts'
import type { Condition, Rule } from './rule.ts'

/** Beyond the edge by this: errors of sampling and reading are 0.1 to 0.25 pH (as in `standingOf`). */
const RAISED_FROM = 0.2
/** Deadband: it goes on until the bed is this near to the edge. */
const GOES_ON_FROM = 0.1
/** On-delay: rain and a soaking move pH for a day or two and give it back (common practice, no source). */
const ON_DELAY_MS = 3 * DAY
/** Off-delay: a whole day, so that the daily swing does not end it. */
const OFF_DELAY_MS = DAY
/** Least probability that the level is outside at all. */
const SURE_ENOUGH = 0.8

/** The level of a bed has lain outside its band for days. */
export const outOfBand: Rule<BedLook> = {
  kind: 'out-of-band',
  priority: 'medium',
  offDelayMs: OFF_DELAY_MS,
  arises(look) {
    const { stay } = look
    const holds =
      stay !== null &&
      stay.beyond >= RAISED_FROM &&
      stay.sureness >= SURE_ENOUGH &&
      stay.hoursBeyond(RAISED_FROM) * HOUR >= ON_DELAY_MS
    return holds ? [condition(look)] : []
  },
  review(_, look) {
    const gone = withoutBand(look)
    if (gone !== null) return gone
    const { stay } = look
    if (stay === null) return { status: 'unknown' }
    return stay.beyond > GOES_ON_FROM
      ? { status: 'holds', condition: condition(look) }
      : { status: 'clear' }
  },
  returned: toSay('The bed is inside its band again, or within 0.1 of it.'),
}

function condition(look: BedLook): Condition {
  const { value, halfWidth, band, side, sureness, hoursBeyond, spots } = look.stay!
  const level = ph1(value)
  const doubt = ph1(halfWidth)
  const edges = bandText(band)
  const names = spots.flatMap((id) => look.spots.find(({ spotId }) => spotId === id)?.spot ?? [])
  return {
    subject: '',
    evidence: {
      ...NO_CHANGE,
      since: look.at - hoursBeyond(GOES_ON_FROM) * HOUR,
      spotsMoved: Array.from(new Set(names)),
      sureness,
      figures: [
        { what: 'level', value, halfWidth, unit: 'pH' },
        { what: 'band-low', value: band.low, halfWidth: null, unit: 'pH' },
        { what: 'band-high', value: band.high, halfWidth: null, unit: 'pH' },
      ],
    },
    sentence:
      side === 'below'
        ? say`${look.bed}: pH ${level} ± ${doubt}, below its band of ${edges} for three days or more. ${surenessText(sureness)}`
        : say`${look.bed}: pH ${level} ± ${doubt}, above its band of ${edges} for three days or more. ${surenessText(sureness)}`,
    advice: said(ADVICE[side]),
  }
}

const ADVICE = {
  below: toSay(
    'Nothing is urgent: soil pH is mended over months. Measure by hand at two or three places, or have the soil tested. If that agrees, plan a raise in small portions; the page of the bed reckons it. With lime or ash follow the product label, wear gloves and eye protection, keep children and animals away, and ask your local extension service.',
  ),
  above: toSay(
    'Nothing is urgent: soil pH is mended over months. Measure by hand at two or three places, or have the soil tested. If that agrees, stop what raises it (lime, ash, hard water) and plan a lowering in small portions. With sulfur or acidifying fertiliser follow the product label, wear gloves and eye protection, keep children and animals away, and ask your local extension service about lime in the soil.',
  ),
} as const
