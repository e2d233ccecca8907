import type { Dosing } from '../../agronomy/dosing.ts'
import { PER_APPLICATION_PH } from '../../agronomy/planning-limits.ts'
import { DAY } from '../../model/clock.ts'
import type { PlanStage, Range } from '../../model/plan.ts'
import type { BedFacts } from '../bed-facts.ts'
import type { Buffering } from '../buffering.ts'
import { dayFrom, dayOf, daysAfter, startOf } from '../calendar.ts'
import { fullEffect } from '../coming.ts'
import type { Need } from '../need.ts'
import type { MaterialOption } from '../options.ts'
import {
  type EarlierPortion,
  LEAST_REST_PH,
  LEAST_STEP_PH,
  type Portion,
  portionOf,
} from '../portions.ts'
import type { Season } from '../season.ts'
import { wentOn } from '../went-on.ts'
import { nextStageFrom, retestsAfter, suitableFrom } from './stage-days.ts'

/** More portions than this nobody can foresee: the bed is looked at anew. */
const MOST_STAGES = 4
const HORIZON_MS = 2 * 365 * DAY

export interface Staging {
  readonly need: Need
  readonly buffering: Buffering
  readonly option: MaterialOption
  readonly dosing: Dosing
  readonly acts: Range
  readonly season: Season
}

/** The portions one after the other; `left` is the way that none of them goes. */
export function stagesOf(
  facts: BedFacts,
  { need, buffering, option, dosing, acts, season }: Staging,
): { stages: readonly PlanStage[]; left: number; held: Portion['held'] | null } {
  const { at, zone, bed } = facts
  const sign = Math.sign(need.change)
  const earlier = alreadyOn(facts, sign, buffering)
  const far = sign > 0 ? need.band!.high : need.band!.low
  // What is at work already may do its utmost.
  const coming = Math.max(
    0,
    ...[need.coming?.low ?? 0, need.coming?.high ?? 0].map((c) => sign * c),
  )
  let left = Math.abs(need.change)
  let room = sign * (far - need.from!) - coming
  let from = Math.max(
    startOf(dayOf(at, zone), zone),
    ...option.told.flatMap(({ until }) =>
      until === null ? [] : startOf(dayFrom(until, zone), zone),
    ),
  )
  let held: Portion['held'] | null = null
  const stages: PlanStage[] = []
  while (stages.length < MOST_STAGES && left >= (stages.length === 0 ? 0 : LEAST_REST_PH)) {
    const dueAt = suitableFrom(facts, dosing, season, from)
    if (dueAt > at + HORIZON_MS) break
    const portion = portionOf(facts, {
      dosing,
      buffering: buffering.gM2PerPh,
      strength: acts,
      left,
      room,
      first: stages.length === 0,
      at: dueAt,
      earlier,
    })
    held = portion.held
    if (portion.amountG === 0 || portion.change.typical < Math.min(LEAST_STEP_PH, left / 2)) {
      const opens = yearOpens(earlier, dueAt)
      if (opens === null || (held !== 'year' && held !== 'cap')) break
      from = startOf(dayFrom(opens, zone), zone)
      continue
    }
    const retestsAt = retestsAfter(facts, dosing, dueAt)
    stages.push({
      dueAt,
      amountG: portion.amountG,
      change: {
        low: sign * portion.change.low,
        typical: sign * portion.change.typical,
        high: sign * portion.change.high,
      },
      fullFrom: daysAfter(dueAt, dosing.peak.low, zone),
      fullBy: daysAfter(dueAt, dosing.peak.high, zone),
      retestsAt,
      entryId: null,
    })
    earlier.push({
      at: dueAt,
      slug: option.material,
      gM2: portion.amountG / bed.areaM2,
      movedPh: portion.change.typical,
    })
    left -= portion.change.typical
    room -= portion.change.typical
    from = nextStageFrom(dosing, dueAt, retestsAt, zone)
  }
  return { stages, left, held }
}

const YEAR_MS = 365 * DAY

/** What the journal says went on this way in the year before. */
export function alreadyOn(facts: BedFacts, sign: number, buffering: Buffering): EarlierPortion[] {
  return wentOn(facts)
    .filter((dose) => dose.toward === sign && dose.at > facts.at - YEAR_MS)
    .map((dose) => ({
      at: dose.at,
      slug: dose.row.slug,
      gM2: dose.gM2,
      // What was not written down counts as large as one portion may be.
      movedPh: dose.gM2 === null ? PER_APPLICATION_PH.value : fullEffect(dose, buffering).typical,
    }))
}

/** When the next of the earlier portions falls out of the year; null when none does. */
function yearOpens(earlier: readonly EarlierPortion[], at: number): number | null {
  const inYear = earlier.filter((one) => one.at > at - YEAR_MS)
  return inYear.length === 0 ? null : Math.min(...inYear.map((one) => one.at)) + YEAR_MS
}
