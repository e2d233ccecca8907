import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { cropBySlug } from '../../agronomy/crops.ts'
import { bedHistory } from '../../analysis/aggregate/history.ts'
import type { Bed } from '../../model/bed.ts'
import { DAY, HOUR } from '../../model/clock.ts'
import type { Quantity } from '../../model/quantity.ts'
import { damagedIn } from '../../store/damaged-in.ts'
import { loadFeeds } from '../../store/feeds.ts'
import type { ApiDeps } from '../deps.ts'
import { shown } from '../explain.ts'
import { ApiProblem, badValue, notFound } from '../problem.ts'
import {
  bedInput,
  bedSeries,
  bedView as bedSchema,
  seriesQuery,
  spot as spotSchema,
  spotInput,
  type BedInput,
  type BedSeries,
  type BedView,
} from '../schemas/bed.ts'
import { idParam } from '../schemas/common.ts'
import { bedQuality, findings as findingsSchema, qualityQuery } from '../schemas/findings.ts'
import { stepFor } from '../step-for.ts'
import { bedView } from '../views/bed.ts'
import { findingsView } from '../views/findings.ts'
import { qualityView } from '../views/quality.ts'
import { toColumn } from '../views/column.ts'
import { say } from '../../words/say.ts'

const UNITS: Readonly<Record<Quantity, string>> = { ph: 'pH', moisture: '1', temperature: 'Cel' }

/** One bed as the garden page shows it. */
export async function viewOf(deps: ApiDeps, bed: Bed): Promise<BedView> {
  const [spots, placements, alarms] = await Promise.all([
    deps.garden.spots(bed.id),
    deps.garden.placements(bed.id),
    deps.garden.openAlarms(),
  ])
  return bedView({
    bed,
    spots,
    placements,
    alarms,
    assessment: deps.watch.latest(bed.id),
    at: deps.clock(),
  })
}

/** A bed's history of one quantity. */
export async function seriesOf(
  deps: ApiDeps,
  find: () => Promise<Bed>,
  { quantity, from, to, points, spots }: z.output<typeof seriesQuery>,
): Promise<BedSeries> {
  if (to <= from) throw badValue('to', say`expected a time after from (${from}), got ${to}`)
  const bed = await find()
  const feeds = await loadFeeds(deps, bed, from, to, stepFor(from, to, points))
  const history = bedHistory(feeds, quantity, { points })
  const damaged = await damagedIn(deps.readings, feeds.feeds)
  return {
    bedId: bed.id,
    quantity,
    unit: UNITS[quantity],
    from,
    to,
    stepMs: history.stepMs,
    time: Array.from(history.time),
    value: toColumn(history.value),
    low: toColumn(history.low),
    high: toColumn(history.high),
    min: toColumn(history.min),
    max: toColumn(history.max),
    spots:
      spots === 'false'
        ? []
        : history.spots.map((s) => ({
            spotId: s.spotId,
            spot: s.spot,
            probe: s.probe,
            value: toColumn(s.value),
            leftOut: Array.from(s.leftOut, (f) => f !== 0),
          })),
    ...(damaged.length > 0 && { damaged }),
  }
}

async function allViews(deps: ApiDeps): Promise<BedView[]> {
  const [beds, spots, placements, alarms] = await Promise.all([
    deps.garden.beds(),
    deps.garden.spots(),
    deps.garden.placements(),
    deps.garden.openAlarms(),
  ])
  return beds.map((bed) =>
    bedView({
      bed,
      spots,
      placements: placements.filter((p) =>
        spots.some((s) => s.id === p.spotId && s.bedId === bed.id),
      ),
      alarms,
      assessment: deps.watch.latest(bed.id),
      at: deps.clock(),
    }),
  )
}

function checkCrops(input: BedInput): void {
  input.crops.forEach((slug, i) => {
    if (cropBySlug(slug) === undefined) {
      throw badValue(`crops.${i}`, say`expected a slug from /api/crops, got ${shown(slug)}`)
    }
  })
}

export function bedRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { garden, watch, live } = deps

  async function bedOr404(id: number): Promise<Bed> {
    const bed = await garden.bed(id)
    if (bed === null) throw notFound('bed')
    return bed
  }
  /** A bed out of use keeps its history as it was. */
  async function usedBed(id: number): Promise<Bed> {
    const bed = await bedOr404(id)
    if (bed.retiredAt !== null) throw new ApiProblem(409, say`${bed.name} is out of use`)
    return bed
  }
  /** Alarms and forms tell spots of a bed apart by name. */
  async function checkSpotName(bedId: number, name: string, self?: number): Promise<void> {
    const spots = await garden.spots(bedId)
    if (spots.some((s) => s.name === name && s.id !== self)) {
      throw new ApiProblem(409, say`there is a spot '${name}' in this bed already`)
    }
  }
  /** Something about this bed was edited: look at it again and tell the open pages. */
  function edited(bedId: number, from?: number): void {
    watch.touch([bedId], from)
    live.send({ event: 'beds', data: {} })
  }

  return async (app) => {
    app.get(
      '/beds',
      { schema: { summary: 'All beds in use', response: { 200: z.array(bedSchema) } } },
      async () => allViews(deps),
    )
    app.post(
      '/beds',
      { schema: { summary: 'Add a bed', body: bedInput, response: { 201: bedSchema } } },
      async (request, reply) => {
        checkCrops(request.body)
        const bed = await garden.addBed(request.body, deps.clock())
        edited(bed.id)
        return reply.code(201).send(await viewOf(deps, bed))
      },
    )
    app.get(
      '/beds/:id',
      { schema: { summary: 'One bed', params: idParam, response: { 200: bedSchema } } },
      async (request) => viewOf(deps, await bedOr404(request.params.id)),
    )
    app.put(
      '/beds/:id',
      {
        schema: {
          summary: 'Change a bed',
          params: idParam,
          body: bedInput,
          response: { 200: bedSchema },
        },
      },
      async (request) => {
        checkCrops(request.body)
        const old = await usedBed(request.params.id)
        const bed = await garden.changeBed(request.params.id, request.body)
        if (bed === null) throw notFound('bed')
        // How much water the soil holds decides which readings count.
        edited(bed.id, bed.texture === old.texture ? undefined : 0)
        return viewOf(deps, bed)
      },
    )
    app.delete(
      '/beds/:id',
      {
        schema: {
          summary: 'Take a bed out of use; its history stays',
          params: idParam,
          response: { 200: bedSchema },
        },
      },
      async (request) => {
        const bed = await garden.retireBed(request.params.id, deps.clock())
        if (bed === null) throw notFound('bed')
        edited(bed.id)
        return viewOf(deps, bed)
      },
    )
    app.post(
      '/beds/:id/spots',
      {
        schema: {
          summary: 'Add a spot where a probe can sit',
          params: idParam,
          body: spotInput,
          response: { 201: spotSchema },
        },
      },
      async (request, reply) => {
        await usedBed(request.params.id)
        await checkSpotName(request.params.id, request.body.name)
        const spot = await garden.addSpot(request.params.id, request.body.name)
        if (spot === null) throw notFound('bed')
        edited(spot.bedId)
        return reply.code(201).send(spot)
      },
    )
    app.put(
      '/spots/:id',
      {
        schema: {
          summary: 'Rename a spot',
          params: idParam,
          body: spotInput,
          response: { 200: spotSchema },
        },
      },
      async (request) => {
        const was = (await garden.spots()).find(({ id }) => id === request.params.id)
        if (was === undefined) throw notFound('spot')
        await checkSpotName(was.bedId, request.body.name, was.id)
        const spot = await garden.renameSpot(was.id, request.body.name)
        if (spot === null) throw notFound('spot')
        await watch.spotRenamed(spot.bedId, was.name, spot.name)
        edited(spot.bedId)
        return spot
      },
    )
    app.delete(
      '/spots/:id',
      {
        schema: {
          summary: 'Remove a spot that never held a probe',
          params: idParam,
          response: { 204: z.null() },
        },
      },
      async (request, reply) => {
        const removed = await garden.removeSpot(request.params.id)
        if (removed === null) throw notFound('spot')
        if (removed === 'in use') {
          throw new ApiProblem(
            409,
            say`a probe has sat in this spot: its history belongs to the bed, so the spot stays; rename it instead`,
          )
        }
        watch.touch()
        live.send({ event: 'beds', data: {} })
        return reply.code(204).send(null)
      },
    )
    app.get(
      '/beds/:id/findings',
      {
        schema: {
          summary:
            'What was found out about a bed: changes and causes, drift, effects, forecast, water',
          params: idParam,
          response: { 200: findingsSchema },
        },
      },
      async (request) => {
        const bed = await bedOr404(request.params.id)
        const [beds, spots, journal] = await Promise.all([
          garden.beds({ retired: true }),
          garden.spots(bed.id),
          garden.journal({ bedId: bed.id }),
        ])
        return findingsView({
          bed,
          beds,
          spots,
          journal,
          assessment: bed.retiredAt === null ? watch.latest(bed.id) : null,
          events: watch.events(bed.id),
          at: deps.clock(),
        })
      },
    )
    app.get(
      '/beds/:id/quality',
      {
        schema: {
          summary: 'How the readings of a bed fared in the quality tests',
          params: idParam,
          querystring: qualityQuery,
          response: { 200: bedQuality },
        },
      },
      async (request) => {
        const bed = await bedOr404(request.params.id)
        const to = Math.ceil(deps.clock() / HOUR) * HOUR
        const from = to - request.query.days * DAY
        const [feeds, journal] = await Promise.all([
          loadFeeds(deps, bed, from, to, 'hour'),
          garden.journal({ bedId: bed.id }),
        ])
        return { bedId: bed.id, from, to, probes: qualityView(feeds, journal) }
      },
    )
    app.get(
      '/beds/:id/series',
      {
        schema: {
          summary: "A bed's history of one quantity",
          params: idParam,
          querystring: seriesQuery,
          response: { 200: bedSeries },
        },
      },
      async (request) => seriesOf(deps, () => bedOr404(request.params.id), request.query),
    )
  }
}
