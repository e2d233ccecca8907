import { LIME_AND_MANURE_DAYS } from '../../agronomy/planning-limits.ts'
import { DAY } from '../../model/clock.ts'
import { dayFrom, startOf } from '../calendar.ts'
import { capital } from '../capital.ts'
import { tell } from '../told.ts'
import { manured } from '../went-on.ts'
import { isLiming, type Rule } from './rule.ts'
import { dayText } from '../../words/figure.ts'
import { said, say, toSay } from '../../words/say.ts'

/** Lime soon after manure or ammonium drives its nitrogen into the air. */
export const manure: Rule = ({ facts, row }) => {
  if (!isLiming(row)) return []
  const { bed, zone } = facts
  const newest = manured(facts, LIME_AND_MANURE_DAYS.value).at(-1)
  const apart = say`Keep ${LIME_AND_MANURE_DAYS.value} days between ${row.name} and manure or ammonium fertiliser.`
  const reason = say`Lime turns their nitrogen into ammonia, which is lost to the air.`
  if (newest === undefined) {
    return [tell('tell', apart, reason, [LIME_AND_MANURE_DAYS.source])]
  }
  const until = startOf(dayFrom(newest.at + LIME_AND_MANURE_DAYS.value * DAY, zone), zone)
  return [
    tell(
      'wait',
      say`${capital(said(newest.material ?? toSay('manure')))} went on ${bed.name} on ${dayText(newest.at, zone)}: no ${row.name} before ${dayText(until, zone)}. ${apart}`,
      reason,
      [LIME_AND_MANURE_DAYS.source],
      { until, later: true },
    ),
  ]
}
