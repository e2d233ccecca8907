import { amendmentOf } from '../../agronomy/amendments.ts'
import type { Insufficient } from '../assessment.ts'
import { tQuantile } from '../stats/t-quantile.ts'
import type { DoseEffect, Span } from './dose-effect.ts'
import { type PooledEstimate, randomEffects, type StudyEstimate } from './random-effects.ts'
import { fixed, counted } from '../../words/figure.ts'
import { said, say } from '../../words/say.ts'

/** An effect and the bed it was seen in. */
export interface BedEffect {
  readonly bed: string
  readonly effect: DoseEffect
}

/** Several treatments taken together, with a 95 % interval of their mean. */
export interface Pooled {
  readonly status: 'ok'
  readonly span: Span
  readonly treatments: number
  /** Standard deviation between treatments beyond their own doubt; half-lives: of the logarithm. */
  readonly between: number
  /** Share of the scatter that is real difference between treatments, 0 to 1. */
  readonly heterogeneity: number
  readonly sentence: string
}

/** What a material did across treatments and beds. */
export interface MaterialComparison {
  readonly material: string
  /** Each treatment by itself, in the order of time. */
  readonly treatments: readonly BedEffect[]
  /** Highest effect, pH per treatment as it was given, whatever the amount. */
  readonly peak: Pooled | Insufficient
  /** Days from the highest point until half is gone. */
  readonly halfLife: Pooled | Insufficient
  readonly sentence: string
}

const LEAST = 2
/** From here the treatments differ so much that their mean alone misleads. */
const MUCH = 0.5
const NORMAL_975 = 1.959964

/**
 * Compares what materials did, across beds and treatments, for one question only: answers to different questions
 * do not mix. Treatments without measurable effect count too, else only luck would be pooled.
 */
export function compareEffects(effects: readonly BedEffect[]): readonly MaterialComparison[] {
  const questions = new Set(effects.map(({ effect }) => effect.question))
  if (questions.size > 1) {
    throw new RangeError('effects that answer different questions cannot be compared')
  }
  const byMaterial = new Map<string, BedEffect[]>()
  for (const one of effects) {
    const key = amendmentOf(one.effect.material)?.name ?? one.effect.material.trim().toLowerCase()
    const list = byMaterial.get(key)
    if (list === undefined) byMaterial.set(key, [one])
    else list.push(one)
  }
  return Array.from(byMaterial, ([material, list]) => {
    const treatments = list.toSorted((a, b) => a.effect.at - b.effect.at)
    const peak = pool(
      treatments.flatMap(({ effect }) => fromSpan(effect.peak, (ph) => ph) ?? []),
      (ph) => ph,
      'pH',
    )
    const halfLife = pool(
      treatments.flatMap(({ effect: { halfLife: half } }) =>
        half.kind === 'known' ? (fromSpan(half.days, Math.log) ?? []) : [],
      ),
      Math.exp,
      'days',
    )
    return {
      material,
      treatments,
      peak,
      halfLife,
      sentence: sentenceOf(material, peak, halfLife),
    }
  }).toSorted((a, b) => (a.material < b.material ? -1 : 1))
}

/** Value and error of an interval, its 95 % half-width taken as two standard errors on the given scale. */
function fromSpan(span: Span | null, scale: (value: number) => number): StudyEstimate | null {
  if (span === null || span.value === null || span.low === null || span.high === null) return null
  const se = (scale(span.high) - scale(span.low)) / (2 * NORMAL_975)
  return se > 0 && Number.isFinite(se) ? { value: scale(span.value), se } : null
}

function pool(
  studies: readonly StudyEstimate[],
  back: (value: number) => number,
  unit: 'pH' | 'days',
): Pooled | Insufficient {
  if (studies.length < LEAST) {
    return {
      status: 'insufficient',
      have: counted(studies.length, 'treatment'),
      need:
        unit === 'pH'
          ? say`${LEAST} treatments whose effect is known`
          : say`${LEAST} treatments whose half-life is known`,
    }
  }
  const pooled = randomEffects(studies)
  const reach = reachOf(pooled, studies.length)
  const span = {
    value: back(pooled.value),
    low: back(pooled.value - reach),
    high: back(pooled.value + reach),
  }
  const digits = unit === 'pH' ? 2 : 0
  const figures = [span.value, span.low, span.high].map((value) => fixed(value, digits))
  const text =
    unit === 'pH'
      ? say`${figures[0]!} pH (${figures[1]!} to ${figures[2]!})`
      : say`${figures[0]!} days (${figures[1]!} to ${figures[2]!})`
  const alike =
    pooled.i2 >= MUCH
      ? say`They differ more than their own doubt explains: look at each.`
      : say`They agree within their own doubt.`
  return {
    status: 'ok',
    span,
    treatments: studies.length,
    between: Math.sqrt(pooled.tau2),
    heterogeneity: pooled.i2,
    sentence: say`${text} over ${counted(studies.length, 'treatment')}. ${alike}`,
  }
}

/**
 * Half-width of the 95 % interval. Where treatments differ much, Student's t with k - 1 degrees of freedom: how much
 * they do is hardly known from few.
 */
function reachOf({ se, i2 }: PooledEstimate, count: number): number {
  return (i2 >= MUCH ? tQuantile(0.975, count - 1) : NORMAL_975) * se
}

function sentenceOf(
  material: string,
  peak: Pooled | Insufficient,
  halfLife: Pooled | Insufficient,
): string {
  const text = said(material)
  const name = text.charAt(0).toUpperCase() + text.slice(1)
  if (peak.status === 'insufficient') {
    return say`${name}: not enough to compare. Known so far: ${peak.have}; needed: ${peak.need}.`
  }
  const half =
    halfLife.status === 'ok' ? ` ${say`Half of it is gone after ${halfLife.sentence}`}` : ''
  return say`${name}: highest effect ${peak.sentence}${half}`
}
