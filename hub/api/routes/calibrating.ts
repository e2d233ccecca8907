import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { ELECTRODE_LIMITS } from '../../agronomy/electrode-limits.ts'
import { sourceById } from '../../agronomy/sources.ts'
import { rollHours } from '../../analysis/aggregate/roll-hours.ts'
import { calibrationEffect } from '../../analysis/measure/calibration-effect.ts'
import { electrodeHealth, wetAndDry } from '../../analysis/measure/electrode-health.ts'
import { settling } from '../../analysis/measure/settling.ts'
import { spotHistory } from '../../analysis/measure/spot-history.ts'
import { toInside } from '../../analysis/measure/units.ts'
import { waterByWeight } from '../../analysis/measure/water-by-weight.ts'
import { sortedFinite } from '../../analysis/stats/median.ts'
import { DAY, HOUR } from '../../model/clock.ts'
import type { SpotFeed } from '../../model/feed.ts'
import type { ElectrodeCalibration } from '../../model/probe.ts'
import type { Buckets } from '../../model/series.ts'
import { latestUntil } from '../../store/latest-until.ts'
import type { ApiDeps } from '../deps.ts'
import { shown } from '../explain.ts'
import { badValue, notFound } from '../problem.ts'
import {
  calibrationEffectView,
  effectQuery,
  electrodeHealthView,
  settlingQuery,
  settlingView,
  weighedInput,
  weighedView,
} from '../schemas/calibrating.ts'
import { probeParam } from '../schemas/common.ts'
import { calibrationInput } from '../schemas/probe.ts'
import { toCalibration } from '../to-calibration.ts'
import { finite } from '../views/column.ts'
import { temperatureSpan, temperatureText } from '../../words/amount.ts'
import { fixed } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** A probe stands in a beaker for no longer. */
const LONGEST_MS = HOUR
const LOOK_BACK_MS = 31 * DAY

/** A thermometer that stands in the same beaker should agree with what was entered. */
function warmthWords(own: number, entered: number): string | null {
  const { most, source } = ELECTRODE_LIMITS.warmthApartC
  if (!(Math.abs(own - entered) > most)) return null
  return say`The probe's own thermometer shows ${temperatureText(own, 1)}, the buffers were entered with ${temperatureText(entered, 1)}. If it stands in the beaker, wait until both agree within ${temperatureSpan(most)}, or begin anew with the right one (${sourceById(source).publisher}).`
}

/** Rows of one channel, then later ones. */
function joined(first: Buckets, then: Buckets): Buckets {
  const both = (name: Exclude<keyof Buckets, 'step'>): Float64Array =>
    Float64Array.from([...first[name], ...then[name]])
  return {
    step: first.step,
    time: both('time'),
    count: both('count'),
    min: both('min'),
    mean: both('mean'),
    max: both('max'),
    median: both('median'),
  }
}

/** What helps while a probe is calibrated; the records themselves are in `probes.ts`. */
export function calibratingRoutes(deps: ApiDeps): FastifyPluginAsyncZod {
  const { garden, readings, clock } = deps

  /** Hours of a probe up to a time, wherever it sat; the last one only as far as it goes. */
  async function hoursOf(probe: string, to: number): Promise<SpotFeed> {
    const from = to - LOOK_BACK_MS
    const [channels, calibrations] = await Promise.all([
      garden.channels(probe),
      garden.calibrations(probe),
    ])
    const wanted = channels.filter(({ senses }) =>
      ['ph.emf', 'temp.soil', 'moist.raw', 'vwc'].includes(senses),
    )
    const lastHour = Math.floor(to / HOUR) * HOUR
    const [buckets, newest] = await Promise.all([
      readings.buckets(
        wanted.map(({ name }) => ({
          probe,
          channel: name,
          from,
          to: lastHour,
          step: 'hour' as const,
        })),
      ),
      readings.buckets(
        wanted.map(({ name }) => ({
          probe,
          channel: name,
          from: lastHour,
          to,
          step: 'raw' as const,
        })),
      ),
    ])
    return {
      spot: { id: 0, bedId: 0, name: '' },
      probe,
      from,
      to,
      channels: wanted.map((channel, i) => ({
        channel,
        buckets: joined(buckets[i]!, rollHours(newest[i]!.time, newest[i]!.mean)),
      })),
      calibrations,
    }
  }

  return async (app) => {
    app.get(
      '/probes/:id/settling',
      {
        schema: {
          summary: 'Whether what a probe shows has come to rest',
          params: probeParam,
          querystring: settlingQuery,
          response: { 200: settlingView },
        },
      },
      async (request) => {
        const { id } = request.params
        const { channel, since, temperature } = request.query
        if ((await garden.probe(id)) === null) throw notFound('probe')
        const channels = await garden.channels(id)
        const found = channels.find((c) => c.name === channel)
        if (found === undefined || !['ph.emf', 'moist.raw'].includes(found.senses)) {
          throw badValue(
            'channel',
            say`expected an electrode or a raw moisture channel of ${id}, got ${shown(channel)}`,
          )
        }
        const to = clock() + 1
        const from = Math.max(since, to - LONGEST_MS)
        const [[buckets], latest] = await Promise.all([
          readings.buckets([{ probe: id, channel, from, to, step: 'raw' }]),
          latestUntil(readings, clock(), id),
        ])
        const isEmf = found.senses === 'ph.emf'
        const factor = isEmf ? toInside(found.unit, 1) : 1
        const seen = settling(
          buckets!.time,
          buckets!.mean.map((value) => factor * value),
          { unit: isEmf ? 'mV' : 'counts' },
        )
        const thermometer = channels.find((c) => c.senses === 'temp.soil')
        const warm = latest.find((l) => l.channel === thermometer?.name && l.at >= since)
        const celsius = warm === undefined ? NaN : toInside(thermometer?.unit ?? '', warm.value)
        return {
          ...seen,
          at: seen.at === null ? null : Math.round(seen.at),
          unit: isEmf ? 'mV' : found.unit,
          warmth: warmthWords(celsius, temperature ?? NaN),
        }
      },
    )
    app.post(
      '/probes/:id/calibrations/effect',
      {
        schema: {
          summary:
            'What the present and the last 30 days would read by a calibration; nothing is stored',
          params: probeParam,
          querystring: effectQuery,
          body: calibrationInput,
          response: { 200: calibrationEffectView },
        },
      },
      async (request) => {
        const { id } = request.params
        const calibration = await toCalibration(deps, id, request.body)
        const to = Math.min(request.query.until ?? Infinity, clock() + 1)
        const effect = calibrationEffect(
          await hoursOf(id, to),
          calibration,
          request.query.replaces ?? null,
        )
        const both = ({ now, then }: { now: number; then: number }) => ({
          now: finite(now),
          then: finite(then),
        })
        return {
          ...effect,
          present: both(effect.present),
          middle: both(effect.middle),
          low: both(effect.low),
          high: both(effect.high),
        }
      },
    )
    app.get(
      '/probes/:id/electrode',
      {
        schema: {
          summary: 'How the electrodes of a probe aged, and when they want fresh buffers',
          params: probeParam,
          response: { 200: z.array(electrodeHealthView) },
        },
      },
      async (request) => {
        const { id } = request.params
        if ((await garden.probe(id)) === null) throw notFound('probe')
        const at = clock()
        const feed = await hoursOf(id, at + 1)
        const { moisture, moistureScale } = spotHistory(feed, 'hour')
        const sorted = sortedFinite(moisture)
        const edge = (share: number): number =>
          sorted[Math.round(share * (sorted.length - 1))] ?? NaN
        const cycling = wetAndDry(edge(0.05), edge(0.95), moistureScale)
        return feed.channels
          .filter(({ channel }) => channel.senses === 'ph.emf')
          .map(({ channel }) => {
            const own = feed.calibrations.filter(
              (c): c is ElectrodeCalibration =>
                c.kind === 'electrode' && c.channel === channel.name,
            )
            const { rows, ...rest } = electrodeHealth(own, { at, cycling })
            return { channel: channel.name, rows: rows.map((row) => ({ ...row })), ...rest }
          })
      },
    )
    app.post(
      '/water-by-weight',
      {
        schema: {
          summary: 'Water by volume of a soil that was weighed wet and dry',
          body: weighedInput,
          response: { 200: weighedView },
        },
      },
      async (request) => {
        const { tinG, wetG, dryG, volumeCm3 } = request.body
        const found = waterByWeight(request.body)
        if ('path' in found) throw badValue(found.path, found.message)
        const water = fixed(wetG - dryG, 1)
        const soil = fixed(dryG - tinG, 1)
        const density = fixed(found.bulkDensity / 1000, 2)
        const byMass = fixed(found.byMass, 3)
        const byVolume = fixed(100 * found.byVolume, 1)
        return {
          ...found,
          sentence:
            volumeCm3 === null
              ? say`${water} g of water on ${soil} g of dry soil are ${byMass} g/g, with a density of ${density} g/cm³: ${byVolume} % of water by volume.`
              : say`${water} g of water on ${soil} g of dry soil are ${byMass} g/g, ${soil} g in ${volumeCm3} cm³ make ${density} g/cm³: ${byVolume} % of water by volume.`,
        }
      },
    )
  }
}
