import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { bedDays } from '../../analysis/aggregate/bed-days.ts'
import { trialPlan } from '../../analysis/trial/trial-plan.ts'
import { trialResult } from '../../analysis/trial/trial-result.ts'
import type { Bed } from '../../model/bed.ts'
import { DAY } from '../../model/clock.ts'
import type { NewTrial, Trial } from '../../model/trial.ts'
import type { ApiDeps } from '../deps.ts'
import { ApiProblem, badValue, notFound } from '../problem.ts'
import { idParam } from '../schemas/common.ts'
import {
  trial as trialSchema,
  trialInput,
  trialPlan as planSchema,
  type Trial as TrialView,
  type TrialInput,
  type TrialPlan as PlanView,
} from '../schemas/trial.ts'
import { say } from '../../words/say.ts'

export function trialRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { garden, memory, live } = deps

  async function bedsOf(trial: {
    readonly treated: readonly number[]
    readonly untreated: readonly number[]
  }): Promise<{ treated: Bed[]; untreated: Bed[] }> {
    const all = await garden.beds({ retired: true })
    const find = (ids: readonly number[], side: 'treated' | 'untreated'): Bed[] =>
      Array.from(new Set(ids)).map((id, i) => {
        const bed = all.find((b) => b.id === id)
        if (bed === undefined) throw badValue(`${side}.${i}`, say`there is no bed ${id}`)
        return bed
      })
    return {
      treated: find(trial.treated, 'treated'),
      untreated: find(trial.untreated, 'untreated'),
    }
  }

  async function seriesOf(beds: readonly Bed[], until: number) {
    const rows = await Promise.all(beds.map((bed) => memory.spotDays(bed.id, -Infinity, until)))
    return rows.map((days) => bedDays(days))
  }

  async function planFor(trial: NewTrial | TrialInput, at: number): Promise<PlanView> {
    const { treated, untreated } = await bedsOf(trial)
    // What is planned rests on the time before it starts.
    const until = Math.min(at, trial.startsAt)
    const [on, off] = await Promise.all([seriesOf(treated, until), seriesOf(untreated, until)])
    const all = [...on, ...off]
    const spots = all.map(({ needed }) => needed)
    const plan = trialPlan({
      treated: on.map((d) => d.bed),
      untreated: off.map((d) => d.bed),
      spotSd: Math.sqrt(spots.reduce((sum, s) => sum + s.spotSd ** 2, 0) / spots.length),
      spotsPerBed: Math.max(1, spots.reduce((sum, s) => sum + s.spots, 0) / spots.length),
      leastEffect: trial.leastEffect,
      days: trial.days,
      material: trial.material,
    })
    return {
      status: plan.status,
      daysNeeded: plan.daysNeeded,
      bedsNeeded: plan.bedsNeeded,
      spotsNeeded: plan.spotsNeeded,
      detectable: plan.detectable.map((d) => ({ ...d })),
      sentence: plan.sentence,
      grounds: [...plan.grounds],
    }
  }

  async function view(trial: Trial): Promise<TrialView> {
    const at = Math.min(deps.clock(), trial.givenUpAt ?? Infinity)
    const { treated, untreated } = await bedsOf(trial)
    const [plan, on, off] = await Promise.all([
      planFor(trial, at),
      seriesOf(treated, at),
      seriesOf(untreated, at),
    ])
    const result = trialResult({
      treated: on.map((d) => d.bed),
      untreated: off.map((d) => d.bed),
      direction: trial.direction,
      leastEffect: trial.leastEffect,
      startsAt: trial.startsAt,
      days: trial.days,
      material: trial.material,
      at,
    })
    const named = (beds: readonly Bed[]) => beds.map(({ id, name }) => ({ id, name }))
    return {
      id: trial.id,
      claim: trial.claim,
      direction: trial.direction,
      material: trial.material,
      leastEffect: trial.leastEffect,
      treated: named(treated),
      untreated: named(untreated),
      startsAt: trial.startsAt,
      endsAt: trial.startsAt + trial.days * DAY,
      givenUpAt: trial.givenUpAt,
      plan,
      result: {
        verdict: result.verdict,
        effect: result.effect === null ? null : { ...result.effect },
        notLargerThan: result.notLargerThan,
        early: result.early,
        sentence: result.sentence,
        grounds: [...result.grounds],
      },
    }
  }

  async function find(id: number): Promise<Trial> {
    const found = await garden.trial(id)
    if (found === null) throw notFound('trial')
    return found
  }

  return async (app) => {
    app.get(
      '/trials',
      {
        schema: {
          summary: 'Claims put to the test, newest start first',
          response: { 200: z.array(trialSchema) },
        },
      },
      async () => Promise.all((await garden.trials()).map(view)),
    )
    app.post(
      '/trials/plan',
      {
        schema: {
          summary: 'What a trial could show, without starting it',
          body: trialInput,
          response: { 200: planSchema },
        },
      },
      async (request) => planFor(request.body, deps.clock()),
    )
    app.post(
      '/trials',
      {
        schema: {
          summary: 'Put a claim to the test; claim, beds and length are fixed from then on',
          body: trialInput,
          response: { 201: trialSchema },
        },
      },
      async (request, reply) => {
        await bedsOf(request.body)
        const stored = await garden.addTrial(request.body, deps.clock())
        live.send({ event: 'beds', data: {} })
        return reply.code(201).send(await view(stored))
      },
    )
    app.get(
      '/trials/:id',
      {
        schema: { summary: 'One trial', params: idParam, response: { 200: trialSchema } },
      },
      async (request) => view(await find(request.params.id)),
    )
    app.post(
      '/trials/:id/give-up',
      {
        schema: {
          summary: 'Give a trial up: it is judged by what was there until now',
          params: idParam,
          response: { 200: trialSchema },
        },
      },
      async (request) => {
        const old = await find(request.params.id)
        const given = await garden.giveUpTrial(old.id, deps.clock())
        if (given === null) throw new ApiProblem(409, say`this trial was given up before`)
        return view(given)
      },
    )
    app.delete(
      '/trials/:id',
      {
        schema: { summary: 'Remove a trial', params: idParam, response: { 204: z.null() } },
      },
      async (request, reply) => {
        if (!(await garden.removeTrial(request.params.id))) throw notFound('trial')
        return reply.code(204).send(null)
      },
    )
  }
}
