import { ACIDITY_TO_PH_6_5_G_M2, ACIDITY_TO_PH_7_G_M2 } from '../../agronomy/planning-limits.ts'
import type { Range } from '../../model/plan.ts'
import { ph1 } from '../../analysis/format.ts'
import type { SoilTest } from '../../model/soil.ts'
import type { BedFacts } from '../bed-facts.ts'
import { type Evidence, type EvidenceOf, OTHER_WAY_SD, type Way } from './evidence.ts'
import { rangeOf, widened } from './log-range.ts'
import { soilMass } from './soil-mass.ts'
import { depthText, groundMass, onGround } from '../../words/amount.ts'
import { fixed, dayText, figure } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** How well a laboratory's lime requirement tells this bed, standard deviation of the logarithm; judgement. */
const LABORATORY_SD = 0.2
/** Steps of pH smaller than this tell nothing of a slope. */
const LEAST_STEP_PH = 0.2
/** Soil the printed formulas are for: 2,000,000 lb in an acre, kg/m2. */
const ACRE_SOIL_KG_M2 = 224.17

/** The newest lime requirement and the newest exchangeable acidity. */
export const laboratoryEvidence: EvidenceOf = (facts, way): readonly Evidence[] =>
  [newest(facts, 'lime requirement'), newest(facts, 'exchangeable acidity')].flatMap((test) => {
    if (test?.kind === 'lime requirement') return limeRequirement(facts, test, way)
    if (test?.kind === 'exchangeable acidity') return acidity(facts, test, way)
    return []
  })

function newest({ tests, at }: BedFacts, kind: SoilTest['kind']): SoilTest | undefined {
  return tests
    .filter((test) => test.kind === kind && test.at <= at)
    .toSorted((a, b) => a.at - b.at)
    .at(-1)
}

function limeRequirement(
  { bed, zone }: BedFacts,
  test: Extract<SoilTest, { kind: 'lime requirement' }>,
  way: Way,
): readonly Evidence[] {
  const step = test.toPh - test.fromPh
  if (step < LEAST_STEP_PH || !(test.limeGM2 > 0) || !(test.depthM > 0)) return []
  const perPh = (test.limeGM2 / step) * (bed.depthM / test.depthM)
  const range = around(perPh, LABORATORY_SD)
  return [
    {
      kind: 'laboratory',
      gM2PerPh: range,
      counts: otherWay(range, way),
      sentence: say`The laboratory's advice of ${dayText(test.at, zone)}: ${groundMass(test.limeGM2)} of pure lime ${onGround()} from pH ${ph1(test.fromPh)} to ${ph1(test.toPh)} over ${depthText(test.depthM)}, times ${fixed(bed.depthM / test.depthM, 2)} for the depth of this bed.`,
      sources: ['MEM'],
    },
  ]
}

/** Exchangeable acidity by the printed formula, for the nearer of its two aims that lies far enough above. */
function acidity(
  facts: BedFacts,
  test: Extract<SoilTest, { kind: 'exchangeable acidity' }>,
  way: Way,
): readonly Evidence[] {
  if (!(test.meqPer100G > 0)) return []
  const aim =
    6.5 - test.ph >= LEAST_STEP_PH
      ? { ph: 6.5, each: ACIDITY_TO_PH_6_5_G_M2 }
      : { ph: 7, each: ACIDITY_TO_PH_7_G_M2 }
  if (aim.ph - test.ph < LEAST_STEP_PH) return []
  const mass = soilMass(facts)
  const perKg = (test.meqPer100G * aim.each.value) / ACRE_SOIL_KG_M2
  const lime = perKg * mass.kgM2.typical
  const range = byMass(around(perKg / (aim.ph - test.ph), LABORATORY_SD), mass.kgM2)
  return [
    {
      kind: 'laboratory',
      gM2PerPh: range,
      counts: otherWay(range, way),
      sentence: say`Exchangeable acidity of ${dayText(test.at, facts.zone)}: ${figure(test.meqPer100G, 2)} meq in 100 g at pH ${ph1(test.ph)} take ${groundMass(lime)} of pure lime ${onGround()} to come to pH ${ph1(aim.ph)} in ${depthText(facts.bed.depthM)} with ${mass.words}.`,
      sources: [aim.each.source],
    },
  ]
}

/** A figure for one kg of soil, made one for a square metre, with the doubt of the density. */
export function byMass(perKg: Range, { low, typical, high }: Range): Range {
  const doubt = Math.log(high / low) / (2 * 1.645)
  const range = widened(perKg, doubt)
  return { low: range.low * typical, typical: range.typical * typical, high: range.high * typical }
}

export function otherWay(range: Range, way: Way): Range {
  return way === 'lower' ? widened(range, OTHER_WAY_SD) : range
}

function around(value: number, sd: number): Range {
  return rangeOf({ middle: Math.log(value), below: sd, above: sd })
}
