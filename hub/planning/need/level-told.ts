import {
  BAND_TOLERANCE_PH,
  LEAST_VALID_DAYS,
  WANTED_VALID_DAYS,
} from '../../agronomy/planning-limits.ts'
import { bandFor } from '../../analysis/band.ts'
import { DAY } from '../../model/clock.ts'
import type { BedFacts } from '../bed-facts.ts'
import type { Need } from '../need.ts'
import { tell, type Told } from '../told.ts'
import { hasNoProbe, type LevelNow } from './level-now.ts'
import { fixed, counted, dayText } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** The newest valid day may be so old. */
const STALE_DAYS = 14

/** Whether there are days enough, fresh enough, and spots enough to say where the bed is. */
export function levelTold(
  facts: BedFacts,
  level: LevelNow | null,
  verdict: Need['verdict'],
): readonly Told[] {
  const { bed, at, zone, study, assessment } = facts
  if (level === null && hasNoProbe(facts)) {
    return [
      tell(
        'ask',
        say`No probe measures pH in ${bed.name}. Put one in, better two or three, and let them run in moist soil until there are ${LEAST_VALID_DAYS.value} valid days. Until then go by a laboratory that tested this soil and by your local extension service.`,
        say`One sample tells where a bed is on one day; a dose rests on the level of many.`,
        [LEAST_VALID_DAYS.source],
      ),
    ]
  }
  if (study === null || assessment === null) {
    return [
      tell(
        'ask',
        say`The days of ${bed.name} have not been gone through yet; that is done soon after the hub has started, and once a day. Look again later.`,
        say`A dose rests on the level of many days, not on the newest reading.`,
        [LEAST_VALID_DAYS.source],
      ),
    ]
  }
  if (level === null) {
    return [
      tell(
        'ask',
        say`${bed.name} has no valid day of pH in the last 30 days. Let its probes run in moist soil until there are ${LEAST_VALID_DAYS.value}, or find out why they are silent.`,
        say`A dose that rests on nothing measured is a guess.`,
        [LEAST_VALID_DAYS.source],
      ),
    ]
  }
  const told: Told[] = []
  if (level.days < LEAST_VALID_DAYS.value) {
    const since =
      level.cutAt === null
        ? ''
        : ` ${say`since its level changed on ${dayText(level.cutAt, zone)}`}`
    told.push(
      tell(
        'ask',
        say`${bed.name} has ${counted(level.days, 'valid day')} of pH${since}; ${LEAST_VALID_DAYS.value} are needed before a dose, ${WANTED_VALID_DAYS.value} are better. ${LEAST_VALID_DAYS.value - level.days} more to go.`,
        say`Single days are off by more than a bed moves in months.`,
        Array.from(new Set([LEAST_VALID_DAYS.source, WANTED_VALID_DAYS.source])),
      ),
    )
  } else if (level.days < WANTED_VALID_DAYS.value) {
    told.push(
      tell(
        'tell',
        say`${bed.name} has ${counted(level.days, 'valid day')} of pH; ${WANTED_VALID_DAYS.value} are better.`,
        say`The more days, the less a wet or a dry week decides.`,
        [WANTED_VALID_DAYS.source],
      ),
    )
  }
  if (at - level.newest > STALE_DAYS * DAY) {
    told.push(
      tell(
        'ask',
        say`The newest valid day of ${bed.name} is ${dayText(level.newest + DAY / 2, zone)}: find out why nothing newer counts.`,
        say`What was measured weeks ago does not tell where the bed is now.`,
        ['MEM'],
      ),
    )
  }
  const spots = study.days.needed
  const { band } = bandFor(bed)
  if (band === null || level.days < LEAST_VALID_DAYS.value) return told
  const out = Math.max(band.low - level.value, level.value - band.high)
  if (out <= 0 || level.half90 < out || verdict === 'none') return told
  const missing = spots.needed - spots.spots
  const more = missing > 0 ? `${say`${counted(missing, 'more spot')} with a probe, or`} ` : ''
  told.push(
    tell(
      verdict === 'cannot tell' ? 'ask' : 'tell',
      say`How far ${bed.name} lies from its band is no more than its doubt of ${fixed(level.half90, 2)} pH: ${more}a sample mixed from ten places would tell.`,
      say`One place tells little of a bed: over a few square metres soil differs more than over a year.`,
      [BAND_TOLERANCE_PH.source],
      { settle: 'sample' },
    ),
  )
  return told
}
