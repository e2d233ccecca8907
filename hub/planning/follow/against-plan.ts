import { amendmentBySlug } from '../../agronomy/amendments.ts'
import { dosingOf } from '../../agronomy/dosing.ts'
import type { Plan } from '../../model/plan.ts'
import type { BedFacts } from '../bed-facts.ts'
import { bufferingOf } from '../buffering.ts'
import { comingOf } from '../coming.ts'
import { type Need, needOf } from '../need.ts'
import { comingTold } from '../need/coming-told.ts'
import { levelNow } from '../need/level-now.ts'
import { POINTLESS, RULES } from '../rules/all-rules.ts'
import type { Case } from '../rules/rule.ts'

/** A plan held against its bed as it is described and measured today, which may differ from when it was made. */
export interface PlanCheck {
  readonly need: Need
  readonly buffering: Case['buffering']
  /** Why nothing more of this material may go on, in a sentence; null when it still may. */
  readonly against: string | null
}

/** Crops, plants, soil tests and other treatments may have changed since: what refuses a new plan stops a running one. */
export function checkPlan(facts: BedFacts, plan: Plan, begun: boolean): PlanCheck {
  const need = needOf(facts, null)
  const buffering = bufferingOf(facts, plan.targetPh > plan.fromPh ? 'raise' : 'lower')
  const row = amendmentBySlug(plan.material)
  const of: Case = { facts, need, buffering, row, dosing: dosingOf(plan.material) }
  // A plan at work is judged by what it has done; its own effect on the way is no reason against it.
  const rules = begun && !isOtherWay(need, plan) ? RULES : [...POINTLESS, ...RULES]
  const refused = rules.flatMap((rule) => rule(of)).find(({ effect }) => effect === 'refuse')
  // By mistake, or from elsewhere: more is at work already than the bed bears.
  const [tooMuch] = comingTold(facts, levelNow(facts), need.band, comingOf(facts))
  return { need, buffering, against: (refused ?? tooMuch)?.sentence ?? null }
}

/** The bed has to go the other way now: its crops or its band are others, or it was moved too far. */
function isOtherWay({ verdict }: Need, { fromPh, targetPh }: Plan): boolean {
  return verdict === (targetPh > fromPh ? 'lower' : 'raise')
}
