import { tryLeastSquares } from '../../analysis/stats/least-squares.ts'
import { tQuantile } from '../../analysis/stats/t-quantile.ts'
import type { SoilTest } from '../../model/soil.ts'
import type { Evidence, EvidenceOf } from './evidence.ts'
import { byMass, otherWay } from './laboratory-evidence.ts'
import { widened } from './log-range.ts'
import { soilMass } from './soil-mass.ts'
import { groundMass, underGround } from '../../words/amount.ts'
import { dayText, figure } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** Near this free lime stays in the jar and more of it moves nothing; the line holds below. */
const LINE_ENDS_PH = 7.3
const LEAST_JARS = 3
/** Scatter of a careful pH in a jar; counts like so many jars more, so that three on a line are no proof. */
const JAR_SD = 0.1
const PRIOR_JARS = 4
/** Jars are not the bed: roots, weather, mixing. Standard deviation of the logarithm; judgement. */
const JAR_TO_BED_SD = 0.15

/** Lime in the jar against its pH: the slope, by least squares, with its 90 % interval. */
export interface JarSlope {
  /** pH for 1 g of pure lime in 1 kg of dry soil. */
  readonly slope: number
  readonly reach: number
  readonly used: number
}

/** Null where the jars tell no slope: too few below the end of the line, or all with the same lime. */
export function jarSlope(test: Extract<SoilTest, { kind: 'jar test' }>): JarSlope | null {
  // One jar past the end of the line may still be on the way there.
  const jars = test.jars.filter(({ ph, limeG }) => ph <= LINE_ENDS_PH || limeG === 0)
  if (jars.length < LEAST_JARS || !(test.soilG > 0)) return null
  const lime = Float64Array.from(jars, ({ limeG }) => (limeG / test.soilG) * 1000)
  const middle = lime.reduce((sum, x) => sum + x, 0) / lime.length
  const fit = tryLeastSquares(
    [new Float64Array(lime.length).fill(1), lime.map((x) => x - middle)],
    Float64Array.from(jars, ({ ph }) => ph),
  )
  if (fit === null) return null
  const freedom = PRIOR_JARS + fit.freedom
  const variance = (PRIOR_JARS * JAR_SD ** 2 + fit.sse) / freedom
  const reach = tQuantile(0.95, freedom) * Math.sqrt(variance * fit.inverse[3]!)
  return { slope: fit.beta[1]!, reach, used: jars.length }
}

/** The newest jar test that tells a slope clearly above zero. */
export const jarEvidence: EvidenceOf = (facts, way): readonly Evidence[] => {
  const { tests, at, zone } = facts
  for (const test of tests.toSorted((a, b) => b.at - a.at || b.id - a.id)) {
    if (test.kind !== 'jar test' || test.at > at) continue
    const found = jarSlope(test)
    if (found === null || found.slope - found.reach <= 0) continue
    const { slope, reach, used } = found
    const mass = soilMass(facts)
    const perKg = { low: 1 / (slope + reach), typical: 1 / slope, high: 1 / (slope - reach) }
    const range = byMass(widened(perKg, JAR_TO_BED_SD), mass.kgM2)
    return [
      {
        kind: 'jar test',
        gM2PerPh: range,
        counts: otherWay(range, way),
        sentence: say`Your jar test of ${dayText(test.at, zone)}: ${figure(perKg.typical, perKg.typical < 10 ? 1 : 0)} g of pure lime in a kilogram of soil for one pH (${used} of ${test.jars.length} jars, those above pH ${LINE_ENDS_PH} left out); ${groundMass(1000 * mass.kgM2.typical)} of soil lie ${underGround()}, ${mass.words}.`,
        sources: ['MEM'],
      },
    ]
  }
  return []
}
