import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { thin } from '../../analysis/aggregate/thin.ts'
import { checkCalibration } from '../../analysis/measure/check-calibration.ts'
import type { Probe } from '../../model/probe.ts'
import type { ApiDeps } from '../deps.ts'
import { shown } from '../explain.ts'
import { freeProbeId } from '../free-probe-id.ts'
import { ApiProblem, badValue, notAhead, notFound } from '../problem.ts'
import { idParam, probeParam } from '../schemas/common.ts'
import { probeDetail, probeLosses } from '../schemas/probe-account.ts'
import {
  calibration as calibrationSchema,
  calibrationCheck,
  calibrationInput,
  channelQuery,
  channelSeries,
  newProbe,
  placementInput,
  probeInput,
  probeView as probeSchema,
  type ProbeView,
} from '../schemas/probe.ts'
import { stepFor } from '../step-for.ts'
import { latestUntil } from '../../store/latest-until.ts'
import { damagedIn } from '../../store/damaged-in.ts'
import { finestStep } from '../../store/retention/finest-step.ts'
import { toCalibration } from '../to-calibration.ts'
import { accountView } from '../views/account.ts'
import { toColumn } from '../views/column.ts'
import { probeOrders } from '../views/order.ts'
import { calibrationView, probeViews } from '../views/probe.ts'
import { say } from '../../words/say.ts'

/** Newest orders among which a probe's settings and commands are looked for. */
const ORDERS_LOOKED_AT = 500

/** Readings of which a page says how each was placed in time. */
const READINGS_SHOWN = 20

async function views(deps: ApiDeps, only?: string): Promise<ProbeView[]> {
  const { garden, readings } = deps
  const [probes, channels, placements, calibrations, latest, spots, beds] = await Promise.all([
    garden.probes(),
    garden.channels(only),
    garden.placements(),
    garden.calibrations(only),
    latestUntil(readings, deps.clock(), only),
    garden.spots(),
    garden.beds({ retired: true }),
  ])
  return probeViews({
    probes: only === undefined ? probes : probes.filter((p) => p.id === only),
    channels,
    placements,
    calibrations,
    latest,
    spots,
    beds,
    access: (id) => deps.access.of(id),
    at: deps.clock(),
  })
}

export function probeRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { garden, watch, live } = deps

  async function probeOr404(id: string): Promise<Probe> {
    const probe = await garden.probe(id)
    if (probe === null) throw notFound('probe')
    return probe
  }
  async function one(id: string): Promise<ProbeView> {
    const [view] = await views(deps, id)
    if (view === undefined) throw notFound('probe')
    return view
  }
  /** With `from`: what was read of the probes since then reads differently now, epoch ms. */
  function edited(from?: number): void {
    watch.touch(undefined, from)
    live.send({ event: 'probes', data: {} })
    live.send({ event: 'beds', data: {} })
  }
  return async (app) => {
    app.get(
      '/probes',
      {
        schema: {
          summary: 'Every probe that ever spoke, strangers included',
          response: { 200: z.array(probeSchema) },
        },
      },
      async () => views(deps),
    )
    app.get(
      '/losses',
      {
        schema: {
          summary: 'What every probe taken in lost so far',
          response: { 200: z.array(probeLosses) },
        },
      },
      async () => {
        const own = (await garden.probes()).filter(({ adoptedAt }) => adoptedAt !== null)
        return Promise.all(
          own.map(async ({ id }) => {
            const { total } = accountView(await deps.readings.accounts(id), [])
            const { received, missing, writtenOff } = total
            return { probe: id, received, missing, writtenOff }
          }),
        )
      },
    )
    app.post(
      '/probes',
      {
        schema: {
          summary: 'Add a probe before it speaks',
          body: newProbe,
          response: { 201: probeSchema },
        },
      },
      async (request, reply) => {
        const { name } = request.body
        const taken = new Set((await garden.probes()).map((probe) => probe.id))
        const id = request.body.id ?? freeProbeId(name, taken)
        const known = await garden.probe(id)
        if (known !== null && known.adoptedAt !== null) {
          throw new ApiProblem(409, say`there is a probe '${id}' already`)
        }
        await garden.adoptProbe(id, name === '' ? id : name, deps.clock())
        edited()
        return reply.code(201).send(await one(id))
      },
    )
    app.get(
      '/probes/:id',
      {
        schema: {
          summary: 'One probe, with what became of its readings and of what it was asked for',
          params: probeParam,
          response: { 200: probeDetail },
        },
      },
      async (request) => {
        const view = await one(request.params.id)
        const [accounts, newest, orders, standing] = await Promise.all([
          deps.readings.accounts(view.id),
          deps.readings.newest(view.id, READINGS_SHOWN),
          garden.orders(view.id, ORDERS_LOOKED_AT),
          garden.standingSettings(view.id),
        ])
        return {
          ...view,
          account: accountView(accounts, newest),
          orders: probeOrders(orders, standing, deps.clock()),
        }
      },
    )
    app.put(
      '/probes/:id',
      {
        schema: {
          summary: 'Take a probe in, or rename it',
          params: probeParam,
          body: probeInput,
          response: { 200: probeSchema },
        },
      },
      async (request) => {
        const { id } = await probeOr404(request.params.id)
        await garden.adoptProbe(id, request.body.name === '' ? id : request.body.name, deps.clock())
        edited()
        return one(id)
      },
    )
    app.get(
      '/probes/:id/series',
      {
        schema: {
          summary: 'One channel of a probe as sent',
          params: probeParam,
          querystring: channelQuery,
          response: { 200: channelSeries },
        },
      },
      async (request) => {
        const { channel, from, to, points } = request.query
        if (to <= from) throw badValue('to', say`expected a time after from (${from}), got ${to}`)
        const { id } = await probeOr404(request.params.id)
        const found = (await garden.channels(id)).find((c) => c.name === channel)
        if (found === undefined)
          throw badValue('channel', say`expected a channel of ${id}, got ${shown(channel)}`)
        const step = await finestStep(deps.readings, [id], from, stepFor(from, to, points))
        const [buckets] = await deps.readings.buckets([{ probe: id, channel, from, to, step }])
        const thinned = thin(buckets!, points)
        const damaged = await damagedIn(deps.readings, [{ probe: id, from, to }])
        return {
          probe: id,
          channel,
          unit: found.unit,
          from,
          to,
          time: Array.from(thinned.time, Math.round),
          count: Array.from(thinned.count),
          min: toColumn(thinned.min),
          mean: toColumn(thinned.mean),
          median: toColumn(thinned.median),
          max: toColumn(thinned.max),
          ...(damaged.length > 0 && { damaged }),
        }
      },
    )
    app.post(
      '/probes/:id/placement',
      {
        schema: {
          summary: 'Put a probe in a spot from a date on, or take it out of the beds',
          params: probeParam,
          body: placementInput,
          response: { 200: probeSchema },
        },
      },
      async (request) => {
        const probe = await probeOr404(request.params.id)
        const { spotId, from } = request.body
        if (probe.adoptedAt === null) {
          throw new ApiProblem(409, say`take '${probe.id}' in before it is put in a spot`)
        }
        notAhead('from', from, deps.clock())
        if (spotId !== null) {
          const spot = (await garden.spots()).find((s) => s.id === spotId)
          const beds = await garden.beds()
          if (!beds.some((bed) => bed.id === spot?.bedId)) {
            throw badValue('spotId', say`expected a spot of a bed in use, got ${spotId}`)
          }
        }
        await garden.placeProbe(probe.id, spotId, from)
        edited(from)
        return one(probe.id)
      },
    )
    app.post(
      '/probes/:id/calibrations/check',
      {
        schema: {
          summary: 'What a calibration would amount to; nothing is stored',
          params: probeParam,
          body: calibrationInput,
          response: { 200: calibrationCheck },
        },
      },
      async (request) => ({
        ...checkCalibration(await toCalibration(deps, request.params.id, request.body)),
      }),
    )
    app.post(
      '/probes/:id/calibrations',
      {
        schema: {
          summary: 'Store a dated calibration',
          params: probeParam,
          body: calibrationInput,
          response: { 201: calibrationSchema },
        },
      },
      async (request, reply) => {
        await probeOr404(request.params.id)
        const calibration = await toCalibration(deps, request.params.id, request.body)
        const check = checkCalibration(calibration)
        if (check.verdict === 'reject') throw badValue('points', check.sentence)
        const stored = await garden.addCalibration(calibration)
        edited(calibration.at)
        return reply.code(201).send(calibrationView(stored))
      },
    )
    app.put(
      '/calibrations/:id',
      {
        schema: {
          summary: 'Correct a calibration; everything it covers is read anew',
          params: idParam,
          body: calibrationInput,
          response: { 200: calibrationSchema },
        },
      },
      async (request) => {
        const old = (await garden.calibrations()).find((c) => c.id === request.params.id)
        if (old === undefined) throw notFound('calibration')
        const calibration = await toCalibration(deps, old.probe, request.body)
        const check = checkCalibration(calibration)
        if (check.verdict === 'reject') throw badValue('points', check.sentence)
        const stored = await garden.changeCalibration(old.id, calibration)
        if (stored === null) throw notFound('calibration')
        edited(Math.min(old.at, calibration.at))
        return calibrationView(stored)
      },
    )
    app.delete(
      '/calibrations/:id',
      {
        schema: {
          summary: 'Remove a calibration; readings are seen through the one before',
          params: idParam,
          response: { 204: z.null() },
        },
      },
      async (request, reply) => {
        const old = (await garden.calibrations()).find(({ id }) => id === request.params.id)
        if (old === undefined || !(await garden.removeCalibration(old.id))) {
          throw notFound('calibration')
        }
        edited(old.at)
        return reply.code(204).send(null)
      },
    )
  }
}
