import type { BedLook } from '../../analysis/assessment.ts'
import { bandText } from '../../analysis/format.ts'
import type { BandForecast } from '../../analysis/forecast/forecast-band.ts'
import { DAY } from '../../model/clock.ts'
import { said, say, toSay } from '../../words/say.ts'
import { surenessText } from '../message.ts'
import { withoutBand } from './basis-gone.ts'
import { NO_CHANGE } from './no-change.ts'
import type { Condition, Rule } from './rule.ts'

/** The middle course leaves the band within so many days: time enough to test the soil and act in small portions. */
const RAISED_WITHIN_DAYS = 60
/** Deadband: it goes on until the middle course stays inside for longer than this. */
const GOES_ON_WITHIN_DAYS = 90
/** Least chance to be outside three months from now; and below which it is over. Judgement. */
const RAISED_CHANCE = 0.8
const GOES_ON_CHANCE = 0.6
const CHANCE_DAYS = 90
/**
 * No on-delay of its own: the outlook is drawn once a day from the medians of at least four weeks, which no single
 * day moves. Off-delay: two such outlooks must agree that it is over.
 */
const OFF_DELAY_MS = 2 * DAY

/** The bed is inside its band, and drifts out of it. */
export const driftOut: Rule<BedLook> = {
  kind: 'drift-out',
  priority: 'low',
  offDelayMs: OFF_DELAY_MS,
  arises(look) {
    return drifts(look, RAISED_WITHIN_DAYS, RAISED_CHANCE) ? [condition(look)] : []
  },
  review(_, look) {
    const gone = withoutBand(look)
    if (gone !== null) return gone
    if (look.ahead === null || look.stay === null) return { status: 'unknown' }
    if (look.ahead.now !== 'inside') {
      return { status: 'void', sentence: say`The bed is no longer inside its band.` }
    }
    return drifts(look, GOES_ON_WITHIN_DAYS, GOES_ON_CHANCE)
      ? { status: 'holds', condition: condition(look) }
      : { status: 'clear' }
  },
  returned: toSay('The outlook keeps the bed inside its band for longer again.'),
}

function drifts({ ahead, stay, at }: BedLook, days: number, chance: number): boolean {
  const median = ahead?.leaves?.median ?? null
  return (
    stay !== null &&
    ahead?.now === 'inside' &&
    median !== null &&
    median - at <= days * DAY &&
    chanceOf(ahead) >= chance
  )
}

const chanceOf = (ahead: BandForecast): number =>
  ahead.chances.find(({ days }) => days === CHANCE_DAYS)?.outside ?? 0

function condition(look: BedLook): Condition {
  const { leaves } = look.ahead!
  const { band, value, halfWidth } = look.stay!
  const chance = chanceOf(look.ahead!)
  const weeks = Math.max(1, Math.round((leaves!.median! - look.at) / (7 * DAY)))
  const edges = bandText(band)
  const low = leaves!.edge === 'low'
  const when = weeks === 1 ? say`in about a week` : say`in about ${weeks} weeks`
  return {
    subject: '',
    evidence: {
      ...NO_CHANGE,
      sureness: chance,
      figures: [
        { what: 'level', value, halfWidth, unit: 'pH' },
        { what: 'band-low', value: band.low, halfWidth: null, unit: 'pH' },
        { what: 'band-high', value: band.high, halfWidth: null, unit: 'pH' },
        { what: 'leaves-at', value: leaves!.median!, halfWidth: null, unit: 'at' },
        { what: 'chance', value: chance, halfWidth: null, unit: '1' },
      ],
    },
    sentence: low
      ? say`${look.bed}: its pH drifts down and leaves its band of ${edges} ${when} if it goes on like this. ${surenessText(chance)}`
      : say`${look.bed}: its pH drifts up and leaves its band of ${edges} ${when} if it goes on like this. ${surenessText(chance)}`,
    advice: said(low ? ADVICE.low : ADVICE.high),
  }
}

const ADVICE = {
  low: toSay(
    'There is time. Check the electrodes in buffer solutions first, for they drift too. If a soil test agrees, a little ground limestone by its label, in small portions, holds the level; the page of the bed reckons how much. With lime follow the product label, wear gloves and eye protection, keep children and animals away, and ask your local extension service.',
  ),
  high: toSay(
    'There is time. Check the electrodes in buffer solutions first, for they drift too. If a soil test agrees, look for what raises it: hard water, lime, ash. Stopping that is mostly enough.',
  ),
} as const
