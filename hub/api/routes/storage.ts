import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import type { Control } from '../../jobs/open-jobs.ts'
import { thinReadings } from '../../jobs/thin-readings.ts'
import { rawBefore } from '../../store/retention/raw-before.ts'
import type { Upkeep } from '../../store/retention/upkeep.ts'
import { say } from '../../words/say.ts'
import type { ApiDeps } from '../deps.ts'
import { ApiProblem, badValue } from '../problem.ts'
import { job } from '../schemas/job.ts'
import {
  retentionInput,
  storage,
  thinning,
  thinningQuery,
  type StorageView,
} from '../schemas/storage.ts'
import { type JobResult, jobView } from '../views/job.ts'
import { storageView, thinningView } from '../views/storage.ts'
import { whoIs } from '../who.ts'
import { jobUnderWay } from './jobs.ts'

/** What everything takes on the disk now. */
export async function storageNow(deps: ApiDeps): Promise<StorageView> {
  const { garden, readings, clock } = deps
  const hub = deps.hub()
  const [disk, folderBytes, size, retention, days, { zone }] = await Promise.all([
    hub.disk?.() ?? null,
    hub.folderBytes?.() ?? null,
    readings.upkeep?.size() ?? null,
    garden.retention(),
    garden.storageDays(),
    garden.garden(),
  ])
  return storageView({ disk, folderBytes, size, retention, days, now: clock(), zone })
}

/** How much there is, how long raw readings are kept, and making hours of the old ones. */
export function storageRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { garden, readings, jobs, clock } = deps

  function upkeep(): Upkeep {
    if (readings.upkeep !== undefined) return readings.upkeep
    throw new ApiProblem(
      409,
      say`The readings lie in a database of its own, which has rules of its own for what is old; the hub thins nothing there.`,
    )
  }

  async function thin({ signal, tell, keep }: Control): Promise<JobResult> {
    const { readings: done, days, of } = await thinReadings(deps, { signal, tell })
    if (signal.aborted) keep({ done: days, of })
    return { done }
  }

  return async (app) => {
    app.get(
      '/storage',
      {
        schema: {
          summary: 'What readings and records take, how that grows, and when the disk is full',
          response: { 200: storage },
        },
      },
      async () => storageNow(deps),
    )
    app.get(
      '/storage/thinning',
      {
        schema: {
          summary: 'What would go if readings older than some months became hours',
          querystring: thinningQuery,
          response: { 200: thinning },
        },
      },
      async (request) => {
        const { zone } = await garden.garden()
        const before = rawBefore(clock(), zone, request.query.months)
        return thinningView(await upkeep().wouldThin(before), before, zone)
      },
    )
    app.put(
      '/storage/retention',
      {
        schema: {
          summary: 'How long raw readings are kept; what is older becomes hours every night',
          body: retentionInput,
          response: { 200: storage },
        },
      },
      async (request) => {
        const { rawMonths, backup } = request.body
        if (rawMonths !== null) {
          upkeep()
          if (!backup) {
            throw badValue(
              'backup',
              say`expected that a backup was made, or that none is wanted: readings that became hours do not come back`,
            )
          }
        }
        await garden.setRetention({ rawMonths, decidedAt: clock() })
        return storageNow(deps)
      },
    )
    app.post(
      '/storage/thin',
      {
        schema: {
          summary: 'Make hours of the readings that are older than they are kept, now',
          response: { 202: job },
        },
      },
      async (request, reply) => {
        upkeep()
        if ((await garden.retention()).rawMonths === null) {
          throw new ApiProblem(
            409,
            say`Raw readings are kept for ever; say first how long they are kept.`,
          )
        }
        const started = jobs.start('thin', whoIs(request).name, thin)
        if (started === null) throw jobUnderWay()
        started.result.catch(() => undefined)
        return reply.code(202).send(jobView(started.job))
      },
    )
    app.post(
      '/storage/compact',
      {
        schema: {
          summary: 'Give emptied space of the file of readings back to the disk',
          response: { 202: job },
        },
      },
      async (request, reply) => {
        const keeper = upkeep()
        if (!(await keeper.size()).shrinks) {
          throw new ApiProblem(
            409,
            say`This file of readings was begun by an older hub and gives nothing back while it is in use. Stop the hub once and run: npm run loamline -- storage --compact`,
          )
        }
        const started = jobs.start('compact', whoIs(request).name, async (at) => ({
          done: (await keeper.shrink(at)).bytes,
        }))
        if (started === null) throw jobUnderWay()
        started.result.catch(() => undefined)
        return reply.code(202).send(jobView(started.job))
      },
    )
  }
}
