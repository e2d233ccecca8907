import { DAY } from '../../model/clock.ts'
import { isWaterScale, type JournalEntry } from '../../model/journal.ts'
import type { BedFacts } from '../bed-facts.ts'
import type { Measured } from '../follow.ts'
import { levelBetween } from './level-between.ts'

/** Days around a portion in which its samples and levels are looked for. */
const BEFORE_DAYS = 14
const SAMPLE_DAYS = 30
const LEAST_DAYS = 5

/** The fortnight before a portion went on. */
export function measuredBefore(facts: BedFacts, putOnAt: number): Measured {
  return measuredIn(facts, putOnAt - BEFORE_DAYS * DAY, putOnAt)
}

/** Level and samples in [from, to). */
function measuredIn({ study, journal }: BedFacts, from: number, to: number): Measured {
  const level =
    study === null
      ? null
      : levelBetween(study.days.bed, from - DAY, to - DAY / 2, { least: LEAST_DAYS })
  return {
    ph:
      level === null
        ? null
        : {
            value: level.value,
            low: level.value - 1.96 * level.wholeSe,
            high: level.value + 1.96 * level.wholeSe,
          },
    from,
    to,
    samples: samplesIn(journal, to - SAMPLE_DAYS * DAY, to),
  }
}

/** From when its effect is full, or the newest fortnight before that; up to the portion after it. */
export function measuredAfter(
  facts: BedFacts,
  putOnAt: number,
  until: number,
  fullAfter: number,
): Measured | null {
  const from = Math.max(putOnAt, Math.min(putOnAt + fullAfter, until - BEFORE_DAYS * DAY))
  if (until - from < LEAST_DAYS * DAY) return null
  return {
    ...measuredIn(facts, from, until + DAY / 2),
    from,
    to: until,
    samples: samplesIn(facts.journal, putOnAt, until),
  }
}

function samplesIn(
  journal: readonly JournalEntry[],
  from: number,
  to: number,
): readonly JournalEntry[] {
  return journal.filter(
    (e) =>
      e.kind === 'sample' &&
      e.method !== null &&
      isWaterScale(e.method) &&
      e.at >= from &&
      e.at < to,
  )
}
