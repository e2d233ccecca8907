import { CONFIRM_DAYS } from '../../agronomy/planning-limits.ts'
import { median } from '../../analysis/stats/median.ts'
import { DAY } from '../../model/clock.ts'
import type { JournalEntry, SampleMethod } from '../../model/journal.ts'
import { ph1 } from '../../analysis/format.ts'
import { sizeText } from '../amount-words.ts'
import type { BedFacts } from '../bed-facts.ts'
import type { Need } from '../need.ts'
import { dayText } from '../../words/figure.ts'
import { said, say } from '../../words/say.ts'

/** Ways of measuring that can confirm probes; hand meters, colour kits and other scales than water cannot. */
const CONFIRMS: readonly SampleMethod[] = [
  'laboratory',
  'laboratory 1:1',
  'laboratory 1:2',
  'slurry 1:1',
  'slurry 1:2',
]
/** The bed value beside a sample is the median of the days this near. */
const NEAR_MS = 3 * DAY
/** Pairs a usual offset of a method needs, and how long such pairs count. */
const LEAST_PAIRS = 3
const PAIRS_MS = 730 * DAY

type Sample = JournalEntry & { readonly ph: number; readonly method: SampleMethod }

/** The newest sample that is young enough and of a kind that confirms, held against the bed of those days. */
export function confirmationOf(facts: BedFacts): Need['confirmation'] {
  const { at } = facts
  const samples = samplesOf(facts)
  const newest = samples.findLast(
    (s) => CONFIRMS.includes(s.method) && s.at > at - CONFIRM_DAYS.value * DAY,
  )
  if (newest === undefined) return null
  const beside = bedBeside(facts, newest.at)
  const usual = usualOffset(facts, samples, newest)
  return {
    entryId: newest.id,
    at: newest.at,
    ph: newest.ph,
    method: newest.method,
    apart: beside === null ? null : newest.ph - (beside - usual),
  }
}

/**
 * Where the bed would be now if the confirming sample had the level right and the probes only how it moved since; pH,
 * null where the two cannot be compared.
 */
export function levelBySample(
  facts: BedFacts,
  level: number,
  confirmation: Need['confirmation'],
): number | null {
  if (confirmation === null) return null
  const beside = bedBeside(facts, confirmation.at)
  return beside === null ? null : confirmation.ph + level - beside
}

/** Samples of a kind that cannot confirm, as young as one that could. */
export function weakSamples(facts: BedFacts): readonly JournalEntry[] {
  return samplesOf(facts).filter(
    (s) => !CONFIRMS.includes(s.method) && s.at > facts.at - CONFIRM_DAYS.value * DAY,
  )
}

function samplesOf({ journal, at }: BedFacts): readonly Sample[] {
  return journal.filter(
    (e): e is Sample =>
      e.kind === 'sample' &&
      e.at <= at &&
      e.ph !== null &&
      Number.isFinite(e.ph) &&
      e.method !== null,
  )
}

function bedBeside({ study }: BedFacts, at: number): number | null {
  if (study === null) return null
  const { day, value } = study.days.bed
  const near = value.filter((_, i) => Math.abs(day[i]! + DAY / 2 - at) <= NEAR_MS)
  const middle = median(near)
  return Number.isNaN(middle) ? null : middle
}

/** What the confirming sample found, in words. */
export function sampleGround(
  { zone }: BedFacts,
  confirmation: Need['confirmation'],
): readonly string[] {
  if (confirmation === null) return []
  const { at, method, ph, apart } = confirmation
  const distance =
    apart === null
      ? say`taken on days without a valid pH of the probes`
      : apart >= 0
        ? say`${sizeText(apart)} above the probes of those days`
        : say`${sizeText(apart)} below the probes of those days`
  return [
    say`The newest sample that counts: ${said(method)}, ${dayText(at, zone)}, pH ${ph1(ph)}, ${distance}.`,
  ]
}

/** The usual distance in words, where there is one: probes show how a bed moves, samples where it is. */
export function offsetGround(facts: BedFacts): readonly string[] {
  const samples = samplesOf(facts)
  const newest = samples.findLast((s) => CONFIRMS.includes(s.method))
  if (newest === undefined) return []
  const usual = usualOffset(facts, samples, newest)
  if (usual === 0) return []
  return [
    usual > 0
      ? say`The probes usually lie ${sizeText(usual)} above samples by ${said(newest.method)}; what the probes say is not shifted by it.`
      : say`The probes usually lie ${sizeText(usual)} below samples by ${said(newest.method)}; what the probes say is not shifted by it.`,
  ]
}

/** How far the bed usually lies above samples of this method; from other samples only, or it would excuse itself. */
function usualOffset(facts: BedFacts, samples: readonly Sample[], but: Sample): number {
  const pairs = samples.flatMap((s) => {
    if (s.id === but.id || s.method !== but.method || s.at < but.at - PAIRS_MS) return []
    const beside = bedBeside(facts, s.at)
    return beside === null ? [] : [beside - s.ph]
  })
  return pairs.length < LEAST_PAIRS ? 0 : median(pairs)
}
