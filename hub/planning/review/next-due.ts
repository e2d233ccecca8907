import { amendmentOf } from '../../agronomy/amendments.ts'
import { declinePerYear } from '../../agronomy/planning-limits.ts'
import { bandFor } from '../../analysis/band.ts'
import { bandText, ph1 } from '../../analysis/format.ts'
import { DAY } from '../../model/clock.ts'
import type { BedFacts } from '../bed-facts.ts'
import { followPlan } from '../follow.ts'
import { openChanges } from '../need/measuring-told.ts'
import { suddenSentence } from '../need/need-words.ts'
import { newestLevel } from '../follow/measured-change.ts'
import type { BedReview } from '../review.ts'
import { monthText } from '../../words/figure.ts'
import { said, say } from '../../words/say.ts'

const YEAR_MS = 365.25 * DAY
/** Nobody can foretell soil further than this. */
const LONGEST_MS = 10 * YEAR_MS

type NextDue = Pick<BedReview, 'nextDue' | 'nextSentence'>

/** When the bed is expected to need something again: by its outlook, by the effect that wears off, by its texture. */
export function nextDue(facts: BedFacts): NextDue {
  const { bed, study, at } = facts
  const { band } = bandFor(bed)
  if (band === null) return nothing(say`${bed.name} has no band, so nothing can fall due.`)
  const level = study === null ? null : newestLevel(study.days.bed, -Infinity, at)
  if (study === null || level === null) {
    return nothing(say`What ${bed.name} will need cannot be said: there are too few recent days.`)
  }
  const sudden = openChanges(facts).find(({ standing }) => standing === 'open')
  if (sudden !== undefined) return nothing(suddenSentence(facts, sudden.event))
  if (level.value < band.low || level.value > band.high) {
    return nothing(
      say`${bed.name} is at pH ${ph1(level.value)}, outside its band ${bandText(band)} ${whatToDo(facts)}.`,
    )
  }
  const leaves = study.forecast.status === 'ok' ? study.forecast.leaves : null
  if (leaves !== null && leaves.median !== null) {
    return due(
      facts,
      { typical: leaves.median, earliest: leaves.earliest, latest: leaves.latest },
      say`by how the bed has gone lately`,
    )
  }
  // The outlook thinks it may leave sooner, though more likely it stays.
  const soonest = leaves?.earliest ?? Infinity
  const sooner = (dates: Dates): Dates =>
    soonest < (dates.earliest ?? Infinity) ? { ...dates, earliest: soonest } : dates
  const worn = byWearingOff(facts, band, level.value)
  if (worn !== null && worn.dates.typical !== null) {
    return due(facts, sooner(worn.dates), say`as the last treatment wears off`)
  }
  const sunk = byTexture(facts, band.low, level.value)
  if (sunk !== null) {
    const least = worn?.toward === 1 ? (worn.dates.earliest ?? 0) : 0
    return due(
      facts,
      sooner(notBefore(sunk, least)),
      say`by what rain and harvests take from ${said(bed.texture)} elsewhere, which is a rough guide`,
    )
  }
  return nothing(
    say`When ${bed.name} will need something again cannot be said: nothing shows it leaving its band ${bandText(band)}.`,
  )
}

function whatToDo(facts: BedFacts): string {
  const runs = facts.plans.find(({ closedAt }) => closedAt === null)
  if (runs === undefined) return say`already: decide about it now`
  return followPlan(facts, runs).stop === null
    ? say`still: go on with its plan`
    : say`still, but its plan has to end: look at it now`
}

type Dates = NonNullable<BedReview['nextDue']>

/** The newest effect goes back to where the bed was; when does that pass the near edge? */
function byWearingOff(
  { study, at }: BedFacts,
  band: { readonly low: number; readonly high: number },
  now: number,
): { readonly dates: Dates; readonly toward: 1 | -1 } | null {
  for (const { material, answers } of (study?.effects ?? []).toReversed()) {
    const toward = amendmentOf(material)?.direction === 'lowers' ? -1 : 1
    const answer = answers.find(
      ({ verdict, halfLife }) => verdict === 'effect' && halfLife.kind !== 'unknown',
    )
    if (answer === undefined || answer.halfLife.kind === 'unknown') continue
    const present = answer.present?.value ?? 0
    const { value, low, high } =
      answer.halfLife.kind === 'known'
        ? answer.halfLife.days
        : { value: null, low: answer.halfLife.days, high: null }
    const edge = toward > 0 ? band.low : band.high
    const base = now - present
    // It comes to rest inside the band: wearing off alone never makes it leave.
    if (toward * present <= 0 || toward * (base - edge) >= 0) return null
    const halves = Math.log2(present / (edge - base))
    const after = (days: number | null): number | null =>
      days === null || halves * days * DAY > LONGEST_MS ? null : at + halves * days * DAY
    return {
      dates: { typical: after(value), earliest: after(low), latest: after(high) },
      toward,
    }
  }
  return null
}

function byTexture({ bed, at }: BedFacts, edge: number, now: number): Dates | null {
  const decline = declinePerYear(bed.texture)
  if (decline === null) return null
  const after = (perYear: number): number | null => {
    const ms = ((now - edge) / perYear) * YEAR_MS
    return ms > LONGEST_MS ? null : at + ms
  }
  const typical = after(decline.typical)
  return typical === null
    ? null
    : { typical, earliest: after(decline.high), latest: after(decline.low) }
}

/** What raised the bed stays at least so long, and keeps it in its band at least so long. */
function notBefore({ typical, earliest, latest }: Dates, least: number): Dates {
  const later = (at: number | null): number | null => (at === null ? null : Math.max(at, least))
  return { typical: later(typical), earliest: later(earliest), latest: later(latest) }
}

function due(facts: BedFacts, dates: Dates, basis: string): NextDue {
  const { bed, zone } = facts
  if (dates.typical === null) {
    return nothing(say`${bed.name} is not expected to need anything for years, ${basis}.`)
  }
  const early = dates.earliest === null ? null : monthOf(dates.earliest, zone)
  const late = dates.latest === null ? null : monthOf(dates.latest, zone)
  const between =
    early === null
      ? ''
      : late === null
        ? `, ${say`not before ${early}`}`
        : early === late
          ? ''
          : `, ${say`between ${early} and ${late}`}`
  return {
    nextDue: dates,
    nextSentence: say`${bed.name}: next treatment due about ${monthOf(dates.typical, zone)}${between}, ${basis}. Measure before it.`,
  }
}

const nothing = (nextSentence: string): NextDue => ({ nextDue: null, nextSentence })

/** 'April 2028': nobody can tell the day. */
function monthOf(at: number, zone: string): string {
  return monthText(at, zone)
}
