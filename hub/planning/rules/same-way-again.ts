import { DAY } from '../../model/clock.ts'
import { dayFrom, startOf } from '../calendar.ts'
import { tell } from '../told.ts'
import { wentOn } from '../went-on.ts'
import { capital } from '../capital.ts'
import type { Rule } from './rule.ts'
import { dayText } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** After something of the same direction: wait until it has shown what it does, then measure. */
export const sameWayAgain: Rule = ({ facts, row, dosing }) => {
  if (dosing === null) return []
  const toward = row.direction === 'raises' ? 1 : -1
  const { bed, at, zone } = facts
  const found = wentOn(facts)
    .filter((dose) => dose.toward === toward)
    .map((dose) => {
      const wait = (dose.dosing ?? dosing).wait
      return { dose, wait, until: dose.at + wait.days * DAY }
    })
    .toSorted((a, b) => a.until - b.until)
    .at(-1)
  if (found === undefined || found.until <= at) return []
  const until = startOf(dayFrom(found.until, zone), zone)
  return [
    tell(
      'wait',
      say`${capital(found.dose.row.name)} went on ${bed.name} on ${dayText(found.dose.at, zone)} and is still at work: measure again on ${dayText(until, zone)}, then decide.`,
      say`Until ${found.wait.days} days have passed nobody can see what it has done; a second dose on top overshoots.`,
      [found.wait.source],
      { until },
    ),
  ]
}
