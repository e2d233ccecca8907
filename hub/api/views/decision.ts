import { cropBySlug } from '../../agronomy/crops.ts'
import { nutrientsAt, type NutrientNote } from '../../agronomy/nutrients.ts'
import { bandFor } from '../../analysis/band.ts'
import { ph1 } from '../../analysis/format.ts'
import type { BedFacts } from '../../planning/bed-facts.ts'
import { type Buffering, bufferingOf } from '../../planning/buffering.ts'
import { type Need, needOf } from '../../planning/need.ts'
import { type MaterialOption, optionsFor } from '../../planning/options.ts'
import type { Decision, MaterialOptionView, NeedView } from '../schemas/planning.ts'
import { planView } from './plan.ts'
import { soilTestView } from './soil-test.ts'
import { sourceOrNull, sourceViews } from './source.ts'
import { toldViews } from './told.ts'
import { listed } from '../../words/figure.ts'
import { said, say } from '../../words/say.ts'

/** What the planner says of a bed, made once for everything that is shown of it. */
export interface Considered {
  readonly need: Need
  readonly buffering: Buffering | null
  readonly options: readonly MaterialOption[]
}

/** @param target the gardener's own aim, pH; null: just inside the band */
export function consider(facts: BedFacts, target: number | null): Considered {
  const need = needOf(facts, target)
  const buffering = bufferingOf(facts, need.verdict === 'lower' ? 'lower' : 'raise')
  return { need, buffering, options: optionsFor(facts, need, buffering) }
}

/** @param photos journal entries of the bed that have one */
export function decisionView(
  facts: BedFacts,
  { need, buffering, options }: Considered,
  photos: readonly number[],
): Decision {
  const { bed, soil, tests, plans, at } = facts
  const running = plans.find(({ closedAt }) => closedAt === null)
  return {
    bedId: bed.id,
    bed: bed.name,
    at,
    need: needView(facts, need),
    soil: {
      bulkDensity: soil.bulkDensity,
      planting: soil.planting,
      hardWater: soil.hardWater,
    },
    tests: tests.map(soilTestView),
    buffering:
      buffering === null
        ? null
        : {
            gM2PerPh: { ...buffering.gM2PerPh },
            parts: buffering.parts.map(({ kind, gM2PerPh, weight, sentence, sources }) => ({
              kind,
              gM2PerPh: { ...gM2PerPh },
              weight,
              sentence,
              sources: sourceViews(sources),
            })),
            sentence: buffering.sentence,
          },
    bufferingMissing:
      buffering === null
        ? say`No published table says how strongly ${said(bed.texture)} holds its pH. A jar test, a figure from a laboratory or what a treatment did in ${bed.name} would tell.`
        : null,
    options: options.map(optionView),
    running: running === undefined ? null : planView(facts, running, photos),
    past: plans
      .filter(({ closedAt }) => closedAt !== null)
      .map((plan) => planView(facts, plan, photos)),
  }
}

function needView({ bed }: BedFacts, need: Need): NeedView {
  const { ph, confirmation } = need
  return {
    verdict: need.verdict,
    ph: ph === null ? null : { value: ph.value, low: ph.low, high: ph.high },
    days: ph?.days ?? 0,
    band: need.band === null ? null : { ...need.band },
    bandSentence: bandFor(bed).sentence,
    crops: Array.from(new Set(bed.crops)).flatMap((slug) => {
      const crop = cropBySlug(slug)
      if (crop === undefined) return []
      return {
        name: crop.name,
        band: { ...crop.band },
        published: crop.published.map(({ low, high, group, source }) => ({
          low,
          high,
          group,
          source: { ...source },
        })),
        disagreement: crop.disagreement,
      }
    }),
    target: need.target,
    change: need.change,
    confirmation: confirmation === null ? null : { ...confirmation },
    told: toldViews(need.told),
    nutrients: nutrientsView(ph?.value ?? null, need.verdict),
    sentence: need.sentence,
    grounds: [...need.grounds],
  }
}

function nutrientsView(ph: number | null, verdict: Need['verdict']): NeedView['nutrients'] {
  const hard = ph === null || verdict === 'cannot tell' ? [] : nutrientsAt(ph)
  return {
    sentence: nutrientsSentence(ph, hard, verdict),
    hard: hard.map(({ name, why }) => ({ name, why })),
    sources: sourceViews(hard.map(({ source }) => source)),
  }
}

function nutrientsSentence(
  ph: number | null,
  hard: readonly NutrientNote[],
  verdict: Need['verdict'],
): string {
  if (ph === null || verdict === 'cannot tell')
    return say`What the pH means for nutrients can be said once it is known.`
  if (hard.length === 0) {
    return say`At pH ${ph1(ph)} nutrients are easy to get for most plants.`
  }
  const names = listed(Array.from(new Set(hard.map(({ name }) => name))))
  const what = say`At pH ${ph1(ph)} these are hard to get or too plentiful: ${names}.`
  return verdict === 'none'
    ? say`${what} The crops of this bed are at home with that.`
    : say`${what} Fertiliser does little about it while the pH is where it is: the pH first, fertiliser later.`
}

function optionView(option: MaterialOption): MaterialOptionView {
  const { strength, label, dose } = option
  return {
    material: option.material,
    name: option.name,
    direction: option.direction,
    verdict: option.verdict,
    told: toldViews(option.told),
    strength: strength === null ? null : { ...strength },
    label: label === null ? null : { ...label },
    dose:
      dose === null
        ? null
        : { gM2: { ...dose.gM2 }, bedG: { ...dose.bedG }, steps: [...dose.steps] },
    most: option.most === null ? null : { ...option.most },
    expected: option.expected,
    cautions: option.cautions.map(({ text, source }) => ({ text, source: sourceOrNull(source) })),
  }
}
