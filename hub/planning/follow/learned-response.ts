import { Z } from '../../analysis/stats/distributions.ts'
import type { Dosing } from '../../agronomy/dosing.ts'
import { DAY } from '../../model/clock.ts'
import type { Range } from '../../model/plan.ts'
import { predictedShare } from '../predict.ts'
import type { MeasuredChange } from './measured-change.ts'
import { fullChange, type PutOn } from './predicted-change.ts'

/** Standard deviations and steps of the grid over what was planned; and over how quick the material is. */
const STRENGTH = { reach: 4, steps: 161 } as const
const PACE = { reach: 2.5, steps: 21 } as const

/**
 * How far one soil lies from what was thought of it, beside the range that was told: standard deviation of the
 * logarithm. Judgement: in fields one pH took 323 (SCOTT2001) to 667 g/m2 (CORBETT2021) of lime where tables say 400.
 */
const ONE_SOIL_SD = 0.5
/** Tails of the measured change: a probe that slips must not overturn what tables say; judgement. */
const FREEDOM = 5

/**
 * How strongly the bed answers, 1: as planned, 0.5: half as strongly; `low` to `high` hold 90 %. What was planned (a
 * log-normal from its range, wider by how one soil differs from the next) is weighed against what was measured by
 * Bayes' rule, over all paces that the published times leave open. Without a measurement it is what was planned.
 */
export function learnedResponse(
  portions: readonly PutOn[],
  dosing: Dosing,
  at: number,
  measured: MeasuredChange | null,
): Range {
  const { low, typical, high } = fullChange(portions)
  if (!(Math.abs(typical) > 0)) return { low: 1, typical: 1, high: 1 }
  if (measured === null) return { low: low / typical, typical: 1, high: high / typical }
  const below = Math.hypot(Math.log(typical / low) / Z.two90, ONE_SOIL_SD)
  const above = Math.hypot(Math.log(high / typical) / Z.two90, ONE_SOIL_SD)
  const byNow = Array.from({ length: PACE.steps }, (_, j) => {
    const z = onGrid(j, PACE)
    return { weight: bell(z), change: changeAtPace(portions, dosing, at, z) }
  })
  const answers = Array.from({ length: STRENGTH.steps }, (_, i) => {
    const z = onGrid(i, STRENGTH)
    const answer = Math.exp(z * (z < 0 ? below : above))
    const fits = byNow.reduce(
      (sum, { weight, change }) => sum + weight * likelihood(measured, change * answer),
      0,
    )
    return { answer, weight: bell(z) * fits }
  })
  return {
    low: shareOf(answers, 0.05),
    typical: shareOf(answers, 0.5),
    high: shareOf(answers, 0.95),
  }
}

const onGrid = (i: number, { reach, steps }: { reach: number; steps: number }): number =>
  reach * ((2 * i) / (steps - 1) - 1)

const bell = (z: number): number => Math.exp((-z * z) / 2)

/** Student's t, not scaled. */
function likelihood(measured: MeasuredChange, change: number): number {
  const far = (measured.value - change) / measured.se
  return (1 + (far * far) / FREEDOM) ** (-(FREEDOM + 1) / 2)
}

/** What the portions have done by now as planned, pH, where the material is quicker than usual by `z` standard deviations. */
function changeAtPace(portions: readonly PutOn[], dosing: Dosing, at: number, z: number): number {
  return portions.reduce((sum, { stage, amountG, at: putOnAt }) => {
    const { low, typical, high } = predictedShare(dosing, (at - putOnAt) / DAY)
    const share = typical + ((z < 0 ? typical - low : high - typical) * z) / Z.two90
    const more = amountG / stage.amountG
    return sum + stage.change.typical * more * Math.min(1, Math.max(0, share))
  }, 0)
}

/** The answer below which a share of the weight lies; each point of the grid stands for half a step on both sides. */
function shareOf(
  answers: readonly { readonly answer: number; readonly weight: number }[],
  share: number,
): number {
  const whole = answers.reduce((sum, { weight }) => sum + weight, 0)
  let below = 0
  let before = answers[0]!
  let beforeBelow = 0
  for (const one of answers) {
    const middle = (below + one.weight / 2) / whole
    if (middle >= share) {
      const part = middle > beforeBelow ? (share - beforeBelow) / (middle - beforeBelow) : 0
      return before.answer * (one.answer / before.answer) ** part
    }
    below += one.weight
    before = one
    beforeBelow = middle
  }
  return before.answer
}
