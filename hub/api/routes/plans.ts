import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import type { Bed } from '../../model/bed.ts'
import { DAY } from '../../model/clock.ts'
import type { NewJournalEntry } from '../../model/journal.ts'
import type { NewPlan, Plan } from '../../model/plan.ts'
import { amendmentBySlug } from '../../agronomy/amendments.ts'
import type { BedFacts } from '../../planning/bed-facts.ts'
import { type Draft, draftPlan } from '../../planning/draft.ts'
import { followPlan } from '../../planning/follow.ts'
import type { Told } from '../../planning/told.ts'
import type { ApiDeps } from '../deps.ts'
import { journalEdited } from '../journal-edited.ts'
import { bedFacts } from '../planning-facts.ts'
import { ApiProblem, badValue, notAhead, notFound } from '../problem.ts'
import { idParam, wholeText } from '../schemas/common.ts'
import {
  closeInput,
  decision as decisionSchema,
  decisionQuery,
  draftAnswer,
  planInput,
  planView as planSchema,
  stageInput,
  type PlanView,
} from '../schemas/planning.ts'
import { consider, decisionView } from '../views/decision.ts'
import { draftView, planView } from '../views/plan.ts'
import { toldViews } from '../views/told.ts'
import { everywhere } from '../../words/everywhere.ts'
import { dayText } from '../../words/figure.ts'
import { said, say, toSay } from '../../words/say.ts'
import { whoIs } from '../who.ts'

const stageParam = z.object({
  id: wholeText(1, Number.MAX_SAFE_INTEGER),
  stage: wholeText(1, 50).describe('portion, counted from 1'),
})
type PlanBody = z.output<typeof planInput>

/** Deciding about a bed, and the plans that come of it. */
export function planRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { garden, live, clock } = deps

  async function usedBed(id: number): Promise<Bed> {
    const bed = await garden.bed(id)
    if (bed === null) throw notFound('bed')
    if (bed.retiredAt !== null) throw new ApiProblem(409, say`${bed.name} is out of use`)
    return bed
  }
  async function factsOf(bedId: number): Promise<BedFacts> {
    return bedFacts(deps, await usedBed(bedId))
  }
  async function viewOf(plan: Plan): Promise<PlanView> {
    const bed = await garden.bed(plan.bedId)
    if (bed === null) throw notFound('bed')
    const [facts, photos] = await Promise.all([bedFacts(deps, bed), garden.photos(bed.id)])
    return planView(facts, plan, photos)
  }
  async function findPlan(id: number): Promise<Plan> {
    const found = await garden.plan(id)
    if (found === null) throw notFound('plan')
    return found
  }

  /** The plan that this form asks for, or why there can be none. */
  function drafted(facts: BedFacts, body: PlanBody): Draft | { refused: readonly Told[] } {
    const { need, buffering, options } = consider(facts, body.target)
    const option = options.find(({ material }) => material === body.material)
    if (option === undefined) {
      throw badValue('material', say`expected a material of the table, got '${body.material}'`)
    }
    return draftPlan(facts, need, buffering, option, body.strength)
  }

  return async (app) => {
    app.get(
      '/beds/:id/decision',
      {
        schema: {
          summary: 'Does the bed need anything; with what, how much, when, or why not',
          params: idParam,
          querystring: decisionQuery,
          response: { 200: decisionSchema },
        },
      },
      async (request) => {
        const facts = await factsOf(request.params.id)
        const photos = await garden.photos(facts.bed.id)
        return decisionView(facts, consider(facts, request.query.target ?? null), photos)
      },
    )
    app.post(
      '/beds/:id/plans/draft',
      {
        schema: {
          summary: 'The portions a plan would have, without keeping it',
          params: idParam,
          body: planInput,
          response: { 200: draftAnswer },
        },
      },
      async (request) => {
        const facts = await factsOf(request.params.id)
        const made = drafted(facts, request.body)
        return 'refused' in made
          ? { draft: null, refused: toldViews(made.refused) }
          : { draft: draftView(facts, made), refused: [] }
      },
    )
    app.post(
      '/beds/:id/plans',
      {
        schema: {
          summary: 'Keep a plan',
          params: idParam,
          body: planInput,
          response: { 201: planSchema },
        },
      },
      async (request, reply) => {
        const facts = await factsOf(request.params.id)
        const runs = say`a plan of ${facts.bed.name} runs already; it has to end first`
        if (facts.plans.some(({ closedAt }) => closedAt === null)) throw new ApiProblem(409, runs)
        const made = drafted(facts, request.body)
        if ('refused' in made) {
          throw new ApiProblem(
            409,
            made.refused.map(({ sentence }) => sentence).join(' ') || say`no plan can be made`,
          )
        }
        const bases = everywhere(() => {
          const said = drafted(facts, request.body)
          return 'refused' in said ? made.plan.basis : said.plan.basis
        })
        const stored = await garden.addPlan({ ...whole(made.plan), bases }, facts.at)
        if (stored === null) throw new ApiProblem(409, runs)
        live.send({ event: 'journal', data: { bedId: stored.bedId } })
        return reply.code(201).send(await viewOf(stored))
      },
    )
    app.get(
      '/beds/:id/plans',
      {
        schema: {
          summary: 'Plans of a bed, newest first',
          params: idParam,
          response: { 200: z.array(planSchema) },
        },
      },
      async (request) => {
        const bed = await garden.bed(request.params.id)
        if (bed === null) throw notFound('bed')
        const [facts, photos] = await Promise.all([bedFacts(deps, bed), garden.photos(bed.id)])
        return facts.plans.map((plan) => planView(facts, plan, photos))
      },
    )
    app.get(
      '/plans',
      {
        schema: { summary: 'Plans that run, newest first', response: { 200: z.array(planSchema) } },
      },
      async () => {
        const used = new Set((await garden.beds()).map(({ id }) => id))
        const running = (await garden.plans()).filter(
          ({ closedAt, bedId }) => closedAt === null && used.has(bedId),
        )
        return Promise.all(running.map(viewOf))
      },
    )
    app.post(
      '/plans/:id/stages/:stage/done',
      {
        schema: {
          summary: 'Write down that a portion was put on',
          params: stageParam,
          body: stageInput,
          response: { 200: planSchema },
        },
      },
      async (request) => {
        const { amountG, text } = request.body
        const plan = await findPlan(request.params.id)
        const facts = await factsOf(plan.bedId)
        const stage = request.params.stage - 1
        notAhead('at', request.body.at, clock())
        // The clock of a phone may run a little ahead, and what was put on was put on.
        const at = Math.min(request.body.at, facts.at)
        refuseStage(facts, plan, stage, at)
        const entry: NewJournalEntry = {
          bedId: plan.bedId,
          at,
          kind: 'treatment',
          material: amendmentBySlug(plan.material).word,
          amountG,
          waterL: null,
          probe: null,
          ph: null,
          method: null,
          text,
          by: whoIs(request).name,
        }
        const done = await garden.doStage(plan.id, stage, entry)
        if (done === null) throw new ApiProblem(409, say`this portion was put on before`)
        journalEdited(deps, plan.bedId, entry.at)
        return viewOf(done.plan)
      },
    )
    app.post(
      '/plans/:id/close',
      {
        schema: {
          summary: 'End a plan',
          params: idParam,
          body: closeInput,
          response: { 200: planSchema },
        },
      },
      async (request) => {
        const plan = await findPlan(request.params.id)
        const closed = await garden.closePlan(plan.id, request.body.ending, clock())
        if (closed === null) throw new ApiProblem(409, say`this plan was ended before`)
        live.send({ event: 'journal', data: { bedId: plan.bedId } })
        return viewOf(closed)
      },
    )
  }
}

/** What went on all the same is not lost: the journal takes it. */
const ALL_THE_SAME = toSay('If it is on already, write it in the journal as a treatment.')

/** Portions go on in their order, and not before the one before has shown what it does. */
function refuseStage(facts: BedFacts, plan: Plan, stage: number, at: number): void {
  const refuse = (why: string): never => {
    throw new ApiProblem(409, `${why} ${said(ALL_THE_SAME)}`)
  }
  const wanted = plan.stages[stage]
  if (wanted === undefined) throw notFound('portion of this plan')
  if (plan.closedAt !== null) refuse(say`This plan has ended.`)
  if (wanted.entryId !== null) throw new ApiProblem(409, say`this portion was put on before`)
  if (at < plan.createdAt - DAY) {
    throw badValue(
      'at',
      say`expected a time after the plan was made (${plan.createdAt}), got ${at}`,
    )
  }
  const { next, stop, sentence } = followPlan(facts, plan)
  const before = plan.stages[stage - 1]
  if (before === undefined) {
    // The bed may have other crops by now, or the opposite went on.
    return stop === null ? undefined : refuse(sentence)
  }
  const last = facts.journal.find(({ id }) => id === before.entryId)
  if (last === undefined) return refuse(say`The portion before it has not been put on.`)
  if (stop !== null || next === null) return refuse(sentence)
  const retest = before.retestsAt[0]
  const measureFrom = retest === undefined ? last.at : last.at + retest - before.dueAt
  if (at < measureFrom) {
    refuse(
      say`The portion before it went on on ${dayText(last.at, facts.zone)}; measure again on ${dayText(measureFrom, facts.zone)}, and put nothing on before.`,
    )
  }
}

/** Times of a plan are whole milliseconds in the store. */
function whole(plan: NewPlan): NewPlan {
  return {
    ...plan,
    stages: plan.stages.map((stage) => ({
      ...stage,
      dueAt: Math.round(stage.dueAt),
      fullFrom: Math.round(stage.fullFrom),
      fullBy: Math.round(stage.fullBy),
      retestsAt: stage.retestsAt.map(Math.round),
    })),
  }
}
