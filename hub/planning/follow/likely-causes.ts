import { massText, temperatureText } from '../../words/amount.ts'
import { amendmentOf } from '../../agronomy/amendments.ts'
import { FERTILISER_DAYS } from '../../agronomy/planning-limits.ts'
import type { Dosing } from '../../agronomy/dosing.ts'
import { DAY } from '../../model/clock.ts'
import type { Plan } from '../../model/plan.ts'
import type { BedFacts } from '../bed-facts.ts'
import { fertilised } from '../went-on.ts'
import type { PutOn } from './predicted-change.ts'
import { said, say, toSay } from '../../words/say.ts'

/** Put on so much more than planned and that alone explains a good deal. */
const MUCH_MORE = 1.2

interface Suspect {
  /** 2: the bed's own data point at it; 1: usual; 0: the data speak against it. */
  readonly weight: 0 | 1 | 2
  readonly sentence: string
}

/** Why a treatment may have done nothing, likeliest first. */
export function noResponseCauses(
  facts: BedFacts,
  dosing: Dosing,
  since: number,
): readonly string[] {
  const { bed, assessment, tests, study } = facts
  const soilC = meanSince(facts, since)
  const least = dosing.leastSoilC?.value ?? null
  const cold = least !== null && soilC !== null && soilC < least + 5
  const dry = assessment?.water.state === 'dry'
  const fizz = tests.findLast((test) => test.kind === 'vinegar test')
  const drifting = (study?.electrodes ?? []).some(
    ({ drift }) => drift.status === 'ok' && drift.drifts,
  )
  const lowers = dosing.slug === 'sulfur' || dosing.slug.endsWith('-sulfate')
  return ranked([
    {
      weight: cold ? 2 : least === null ? 0 : 1,
      sentence:
        soilC === null
          ? say`The soil was too cold: soil life does little below ${temperatureText(10)}.`
          : say`The soil was cold: ${temperatureText(soilC)} on average since then; soil life needs warmth to turn it into acid.`,
    },
    {
      weight: dry ? 2 : 1,
      sentence: dry
        ? say`${bed.name} is dry at present: nothing dissolves without water.`
        : say`The soil was dry for long: nothing dissolves without water.`,
    },
    {
      weight: !lowers ? 0 : fizz?.fizzes === true ? 2 : fizz === undefined ? 1 : 0,
      sentence:
        fizz?.fizzes === true
          ? say`There is free lime in the soil, as the vinegar test showed: it swallows the acid.`
          : say`There may be free lime in the soil, which swallows the acid: a vinegar test would tell.`,
    },
    {
      weight: drifting ? 2 : 1,
      sentence: drifting
        ? say`A probe of this bed drifts: check it in buffers, or take a slurry sample.`
        : say`The probes do not sit where it was worked in, or read falsely: take a slurry sample.`,
    },
    {
      weight: 1,
      sentence: say`It lies on top and was not worked in; on the surface it takes years to move down.`,
    },
    { weight: 1, sentence: say`The grain is coarse: the coarser, the slower.` },
    {
      weight: 1,
      sentence: say`The soil of ${bed.name} holds its pH more strongly than was thought: a jar test would tell.`,
    },
  ])
}

/** Why a treatment may have done more than it should, likeliest first. */
export function tooMuchCauses(
  facts: BedFacts,
  plan: Plan,
  portions: readonly PutOn[],
): readonly string[] {
  const { bed, journal, study } = facts
  const since = portions[0]?.at ?? plan.createdAt
  const given = portions.reduce((sum, { amountG }) => sum + amountG, 0)
  const planned = portions.reduce((sum, { stage }) => sum + stage.amountG, 0)
  const own = new Set(plan.stages.map(({ entryId }) => entryId))
  const others = journal.filter(
    (e) =>
      e.kind === 'treatment' &&
      e.at > since - 90 * DAY &&
      !own.has(e.id) &&
      amendmentOf(e.material ?? '')?.direction !== 'none',
  )
  const salts = fertilised(facts, Math.max(FERTILISER_DAYS.value, 28)).length > 0
  const drifting = (study?.electrodes ?? []).some(
    ({ drift }) => drift.status === 'ok' && drift.drifts,
  )
  return ranked([
    {
      weight: given > MUCH_MORE * planned ? 2 : 0,
      sentence: say`More went on than was planned: ${massText(given)} instead of ${massText(planned)}.`,
    },
    {
      weight: others.length > 0 ? 2 : 0,
      sentence: say`Something else went on about the same time: ${others.map((e) => said(e.material ?? toSay('a treatment'))).join(', ')}.`,
    },
    {
      weight: salts ? 2 : 1,
      sentence: say`Fertiliser: its salts lower the reading for weeks, whatever the soil does.`,
    },
    {
      weight: drifting ? 2 : 1,
      sentence: say`A probe that reads falsely: check it in buffers, or take a slurry sample.`,
    },
    {
      weight: 1,
      sentence: say`The soil of ${bed.name} holds its pH less strongly than was thought; the next plan counts with what is seen now.`,
    },
  ])
}

function ranked(suspects: readonly Suspect[]): readonly string[] {
  return suspects
    .filter(({ weight }) => weight > 0)
    .toSorted((a, b) => b.weight - a.weight)
    .map(({ sentence }) => sentence)
}

/** Mean temperature of the soil since then, degrees Celsius; null without any. */
function meanSince({ soilC }: BedFacts, since: number): number | null {
  const values = soilC.value.filter((_, i) => soilC.day[i]! >= since)
  return values.length === 0 ? null : values.reduce((sum, v) => sum + v, 0) / values.length
}
