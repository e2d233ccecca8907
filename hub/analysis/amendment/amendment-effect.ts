import { amendmentOf } from '../../agronomy/amendments.ts'
import { DAY } from '../../model/clock.ts'
import type { DailySeries } from '../aggregate/daily-series.ts'
import type { Insufficient } from '../assessment.ts'
import { harmonics } from '../stats/harmonics.ts'
import type { Dose, DoseEffect, EffectQuestion } from './dose-effect.ts'
import { type DoseGroup, doseGroups, PORTIONS_MS } from './dose-groups.ts'
import { effectSentence, tooFewSentence } from './effect-words.ts'
import { fitResponse } from './fit-response.ts'
import { judgeDose } from './judge-dose.ts'
import { type StartTrend, startTrend } from './start-trend.ts'
import { dailyDifference, type WeeklySeries, weeklyMedians } from '../aggregate/weekly-medians.ts'
import { fixed, counted } from '../../words/figure.ts'
import { said, say } from '../../words/say.ts'

/** What a bed's treatments did. */
/** Too few values, and on which side of the treatment. */
type Short = Insufficient & { readonly lacks: 'before' | 'after' }

export interface AmendmentEffect {
  readonly status: 'ok'
  readonly question: EffectQuestion
  /** In the order of time; doses of one material within three weeks are one. */
  readonly doses: readonly DoseEffect[]
}

/** How much before a dose is used at most, and needed at least. A season takes longer to learn than a difference. */
const BEFORE = {
  'advantage over untreated': { mostMs: 365 * DAY, leastDays: 90 },
  'above where it was': { mostMs: 730 * DAY, leastDays: 180 },
} as const
/** Weeks that may be missing of those needed before. */
const LEAST_WEEKS_SHARE = 2 / 3
const ONSET_WEEKS = 6
/** A dose with fewer values after it gets no column of its own. */
const COLUMN_WEEKS = 2
const YEAR_MS = 365.25 * DAY

/**
 * What each treatment of a bed did to its pH: onset, highest point, what is there now, and how long half of it
 * stays. With a control the difference of the two is fitted and the answer is the advantage over untreated;
 * without one a yearly season is fitted along and the answer is how far the bed is above where it was. These
 * differ widely where the untreated soil moves too.
 *
 * @param control another bed, or the mean of several, without a treatment of its own
 */
export function amendmentEffect(
  treated: DailySeries,
  control: DailySeries | null,
  doses: readonly Dose[],
  { at, controls = [] }: AmendmentOptions,
): AmendmentEffect | Insufficient {
  const question = control === null ? 'above where it was' : 'advantage over untreated'
  const groups = doseGroups(doses.filter((dose) => dose.at <= at))
  if (groups.length === 0) {
    return {
      status: 'insufficient',
      have: say`no treatment in the journal`,
      need: say`one treatment`,
    }
  }
  const series = control === null ? treated : dailyDifference(treated, control)
  const keys = Array.from(new Set(groups.map(({ key }) => key)))
  const effects = keys.flatMap((key) => effectsOf(key, groups, series, question, at, controls))
  return { status: 'ok', question, doses: effects.toSorted((a, b) => a.at - b.at) }
}

export interface AmendmentOptions {
  /** Now, epoch ms. */
  readonly at: number
  /** Names of the beds in the control, for the words. @default none */
  readonly controls?: readonly string[]
}

/** The doses of one material: they share lag, rise and return. */
function effectsOf(
  key: string,
  groups: readonly DoseGroup[],
  series: DailySeries,
  question: EffectQuestion,
  at: number,
  controls: readonly string[],
): readonly DoseEffect[] {
  const own = groups.filter((group) => group.key === key)
  const { mostMs, leastDays } = BEFORE[question]
  const firstAt = own[0]!.at
  const weekly = weeklyMedians(series, { origin: firstAt, from: firstAt - mostMs, to: at })
  const after = (group: DoseGroup): number => weekly.time.filter((time) => time > group.at).length
  const before = (group: DoseGroup): { weeks: number; days: number } => {
    const times = weekly.time.filter((time) => time <= group.at)
    return {
      weeks: times.length,
      days: times.length === 0 ? 0 : (group.at - times[0]!) / DAY + 3.5,
    }
  }
  const shortOf = (group: DoseGroup): Short | null => {
    const { weeks, days } = before(group)
    const needed = Math.floor(leastDays / 7)
    if (days < needed * 7 || weeks < needed * LEAST_WEEKS_SHARE) {
      return {
        status: 'insufficient',
        lacks: 'before',
        have: say`${counted(weeks, 'weekly value')} over ${Math.round(days)} days before it`,
        need: say`${leastDays} days before it`,
      }
    }
    if (after(group) < ONSET_WEEKS) {
      return {
        status: 'insufficient',
        lacks: 'after',
        have: say`${counted(after(group), 'weekly value')} after it`,
        need: say`${ONSET_WEEKS} for when it begins, 12 for how far it goes`,
      }
    }
    return null
  }
  if (own.every((group) => shortOf(group) !== null)) {
    return own.map((group) => insufficientEffect(group, question, shortOf(group)!, controls))
  }
  // What lies before the record is part of where the bed was; what else went on gets its own response.
  const inside = (group: DoseGroup): boolean =>
    weekly.time[0]! < group.at && after(group) >= COLUMN_WEEKS
  const others = groups.filter((group) => group.key !== key && group.moves && inside(group))
  const together = others.filter((other) =>
    own.some((group) => Math.abs(group.at - other.at) < PORTIONS_MS),
  )
  const columns = [...own.filter(inside), ...others.filter((other) => !together.includes(other))]
  const fit = fitResponse(
    weekly,
    sharedColumns(weekly, question),
    columns.map((group) => group.at),
  )
  const start = question === 'advantage over untreated' ? startTrend(weekly, firstAt) : null
  return own.map((group): DoseEffect => {
    const short = shortOf(group)
    if (short !== null) return insufficientEffect(group, question, short, controls)
    const { clear, ...judged } = judgeDose(fit, columns.indexOf(group), {
      weekly,
      at: group.at,
      weeksAfter: after(group),
      now: at,
    })
    const { peak } = judged
    const common = { ids: group.ids, at: group.at, material: group.material, question }
    const found = clear
      ? {
          ...common,
          ...judged,
          verdict: 'effect' as const,
          notLargerThan: null,
        }
      : {
          ...common,
          ...judged,
          verdict: 'no measurable effect' as const,
          onsetDays: null,
          peakDays: null,
          halfLife: { kind: 'unknown' as const, reason: 'no measurable effect' },
          halfBackAt: null,
          notLargerThan: Math.max(Math.abs(peak!.low!), Math.abs(peak!.high!)),
        }
    return {
      ...found,
      sentence: effectSentence(found, controls),
      grounds: [
        ...groundsOf({ group, question, weekly, fit, start, others: together, controls }),
        ...(clear ? directionGround(group.material, peak!.value!) : []),
      ],
    }
  })
}

function sharedColumns(weekly: WeeklySeries, question: EffectQuestion): readonly Float64Array[] {
  const level = new Float64Array(weekly.time.length).fill(1)
  if (question === 'advantage over untreated') return [level]
  return [level, ...harmonics(weekly.time, YEAR_MS, 1)]
}

function insufficientEffect(
  { ids, at, material }: DoseGroup,
  question: EffectQuestion,
  short: Short,
  controls: readonly string[],
): DoseEffect {
  return {
    ids,
    at,
    material,
    question,
    verdict: 'insufficient',
    onsetDays: null,
    peakDays: null,
    peak: null,
    present: null,
    halfLife: { kind: 'unknown', reason: say`there are ${short.have}` },
    notLargerThan: null,
    halfBackAt: null,
    curve: null,
    points: null,
    sentence: tooFewSentence(material, short, controls, short.lacks),
    grounds: [],
  }
}

/** Whether it went the way the material is known to go; nothing for what is not known or goes both ways. */
function directionGround(material: string, peak: number): readonly string[] {
  const row = amendmentOf(material)
  if (row === null || row.direction === 'unclear') return []
  const known =
    row.direction === 'none'
      ? say`${said(row.name)} is known to leave pH alone`
      : row.direction === 'raises'
        ? say`${said(row.name)} is known to raise pH`
        : say`${said(row.name)} is known to lower pH`
  return row.direction === (peak > 0 ? 'raises' : 'lowers')
    ? [say`The direction agrees: ${known}.`]
    : [say`The direction does not agree: ${known}. Something else may be behind this.`]
}

function groundsOf({
  group,
  question,
  weekly,
  fit,
  start,
  others,
  controls,
}: {
  group: DoseGroup
  question: EffectQuestion
  weekly: WeeklySeries
  fit: { rho: number; noise: number; allowed: readonly unknown[] }
  start: StartTrend | null
  others: readonly DoseGroup[]
  controls: readonly string[]
}): readonly string[] {
  const weeks = weekly.time.length
  const later = weekly.time.filter((time) => time > group.at).length
  return [
    question === 'advantage over untreated'
      ? say`Held against ${controls.length > 0 ? controls.join(', ') : say`an untreated bed`}: weekly medians of the daily difference.`
      : say`No untreated bed: weekly medians of the bed itself, with a yearly season fitted along.`,
    say`${counted(weeks, 'weekly value')}, ${later} of them after it.`,
    say`Week-to-week noise ${fixed(fit.noise, 2)} pH, correlation of neighbouring weeks ${fixed(fit.rho, 2)}.`,
    say`${counted(fit.allowed.length, 'course')} of rise and return fit the data; the intervals span them all (95 %).`,
    ...(group.ids.length > 1 ? [say`Put on in ${group.ids.length} portions, taken as one.`] : []),
    ...others.map(
      ({ material }) =>
        say`${said(material)} went on within three weeks of it: the two cannot be told apart.`,
    ),
    ...(start === null ? [] : [start.sentence]),
  ]
}
