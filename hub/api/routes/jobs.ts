import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { eventSentence } from '../../analysis/event-words.ts'
import { hourAfter, loadReplayBeds, replayInSlices } from '../../jobs/replay-beds.ts'
import type { Control } from '../../jobs/open-jobs.ts'
import type { ApiDeps } from '../deps.ts'
import { ApiProblem, notFound } from '../problem.ts'
import { idParam } from '../schemas/common.ts'
import { job, jobInput } from '../schemas/job.ts'
import { type JobResult, jobView } from '../views/job.ts'
import { whoIs } from '../who.ts'

/** Rows of a replay that are told one by one. */
const MOST_TOLD = 200

export const jobUnderWay = (): ApiProblem =>
  new ApiProblem(409, 'work of this kind is under way; try again when it is done, or give it up')

/** Long work: what is under way, how far it is, beginning some, giving it up. */
export function jobRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { jobs, readings, garden, clock } = deps

  async function rebuild({ signal, tell, keep }: Control): Promise<JobResult> {
    const { days, of } = await readings.rebuild({ signal, tell })
    if (signal.aborted) keep({ done: days, of })
    // What the watch saw in hours that were wrong does not hold.
    deps.watch.touch(undefined, 0)
    return { done: days }
  }

  async function goThrough(
    { signal, tell }: Control,
    from: number | null,
    to: number | null,
  ): Promise<JobResult> {
    const now = clock()
    const { beds, journal } = await loadReplayBeds(deps, await garden.beds(), now)
    if (beds.length === 0) {
      return {
        done: 0,
        replayed: { hours: 0, changes: [], alarms: [], changesCount: 0, alarmsCount: 0 },
      }
    }
    const until = hourAfter(Math.min(to ?? now, now))
    const result = await replayInSlices(beds, from ?? -Infinity, until, { signal, tell })
    if (result === null) return { done: 0 }
    const names = {
      spots: new Map(beds.flatMap(({ spots }) => spots.map((s) => [s.id, s.name] as const))),
      beds: new Map(beds.map(({ folding }) => [folding.context.bed.id, folding.context.bed.name])),
      journal,
    }
    const bedOf = (id: number): string => names.beds.get(id) ?? ''
    const raised = result.alarms.filter(({ what }) => what === 'raised')
    return {
      done: result.hours,
      replayed: {
        hours: result.hours,
        changesCount: result.events.length,
        alarmsCount: raised.length,
        changes: result.events.slice(0, MOST_TOLD).map((event) => ({
          at: event.noticedAt,
          bed: bedOf(event.bedId),
          sentence: eventSentence(event, names),
        })),
        alarms: raised.slice(0, MOST_TOLD).map(({ at, bedId, sentence }) => ({
          at,
          bed: bedOf(bedId),
          sentence,
        })),
      },
    }
  }

  return async (app) => {
    app.get(
      '/jobs',
      {
        schema: {
          summary: 'Long work under way, and what came of the last; newest first',
          response: { 200: z.array(job) },
        },
      },
      async () => jobs.list().map(jobView),
    )
    app.get(
      '/jobs/:id',
      { schema: { summary: 'One job', params: idParam, response: { 200: job } } },
      async (request) => {
        const found = jobs.get(request.params.id)
        if (found === null) throw notFound('job')
        return jobView(found)
      },
    )
    app.post(
      '/jobs',
      {
        schema: {
          summary: 'Make hours and days anew from the readings, or go through the past again',
          body: jobInput,
          response: { 202: job },
        },
      },
      async (request, reply) => {
        const { body } = request
        const { name } = whoIs(request)
        const started =
          body.kind === 'rebuild'
            ? jobs.start('rebuild', name, rebuild)
            : jobs.start('replay', name, (at) => goThrough(at, body.from, body.to))
        if (started === null) throw jobUnderWay()
        // How it ends is told with the job.
        started.result.catch(() => undefined)
        return reply.code(202).send(jobView(started.job))
      },
    )
    app.post(
      '/jobs/:id/cancel',
      {
        schema: {
          summary: 'Give a job up; what stays of it is said with it',
          params: idParam,
          response: { 200: job },
        },
      },
      async (request) => {
        const found = jobs.cancel(request.params.id)
        if (found === null) throw notFound('job')
        return jobView(found)
      },
    )
  }
}
