import { OPPOSITE_DAYS } from '../../agronomy/planning-limits.ts'
import { DAY } from '../../model/clock.ts'
import { dayFrom, startOf } from '../calendar.ts'
import { tell } from '../told.ts'
import { wentOn } from '../went-on.ts'
import { capital } from '../capital.ts'
import type { Rule } from './rule.ts'
import { dayText } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** Lime and acid within half a year of each other cancel and leave salt. */
export const opposite: Rule = ({ facts, row }) => {
  if (row.direction !== 'raises' && row.direction !== 'lowers') return []
  const toward = row.direction === 'raises' ? 1 : -1
  const { bed, at, zone } = facts
  const newest = wentOn(facts).findLast(
    (dose) => dose.toward !== toward && dose.at > at - OPPOSITE_DAYS.value * DAY,
  )
  if (newest === undefined) return []
  const until = startOf(dayFrom(newest.at + OPPOSITE_DAYS.value * DAY, zone), zone)
  return [
    tell(
      'refuse',
      say`${capital(newest.row.name)}, which works the other way, went on ${bed.name} on ${dayText(newest.at, zone)}: nothing against it before ${dayText(until, zone)}, then measure again.`,
      say`The two cancel each other, leave salt and stress the plants twice.`,
      [OPPOSITE_DAYS.source],
    ),
  ]
}
