import { z } from 'zod'
import { say, toSay } from '../../words/say.ts'
import { MOST_WATER } from '../../analysis/measure/water-by-weight.ts'
import { BUFFER_SET_IDS } from '../../model/probe.ts'
import { SENSED } from '../../model/quantity.ts'
import { probeAccess } from './access.ts'
import { column, epochMs, epochQuery, id, nameOrEmpty, newProbeId, wholeText } from './common.ts'
import { damagedStretches } from './damaged.ts'

export const bufferPoint = z.object({
  ph: z.number().min(0).max(14).describe('pH of the buffer at its temperature'),
  emfMv: z.number().min(-1000).max(1000).describe('what the electrode showed in it, mV'),
})

export const soilPoint = z.object({
  raw: z.number().describe('what the probe showed in it, as sent'),
  vwc: z.number().min(0).max(MOST_WATER).describe('its water by volume, m3/m3'),
})

export const calibrationInput = z
  .discriminatedUnion(
    'kind',
    [
      z.object({
        kind: z.literal('electrode'),
        channel: z.string(),
        at: epochMs.describe('from when it holds'),
        points: z
          .tuple([bufferPoint, bufferPoint], bufferPoint)
          .refine((points) => points.length <= 3, toSay('expected two or three buffers'))
          .describe('two or three buffers; of three the line of least squares is taken'),
        temperatureC: z.number().min(0).max(50).describe('of the buffers'),
        bufferSet: z
          .enum(BUFFER_SET_IDS)
          .nullable()
          .default(null)
          .describe('the one set from /api/buffers that all of them are of; null: not said'),
        note: z.string().max(500).default(''),
      }),
      z.object({
        kind: z.literal('moisture'),
        channel: z.string(),
        at: epochMs.describe('from when it holds'),
        dryRaw: z.number().describe('raw value at the dry point'),
        wetRaw: z.number().describe('raw value at the wet point'),
        soilPoints: z
          .array(soilPoint)
          .max(20)
          .default([])
          .describe('soils of known water; two or more turn the range into water by volume'),
        note: z.string().max(500).default(''),
      }),
    ],
    {
      error: (issue) =>
        issue.code === 'invalid_union' ? say`expected "electrode" or "moisture"` : undefined,
    },
  )
  .meta({ id: 'CalibrationForm' })
export type CalibrationInput = z.input<typeof calibrationInput>

/** What a calibration amounts to, before or after it is stored. */
export const calibrationCheck = z
  .object({
    verdict: z.enum(['good', 'usable', 'reject']),
    slopePercent: z.number().nullable().describe('electrode: per cent of the Nernst slope'),
    offsetMv: z.number().nullable().describe('electrode: EMF at pH 7, mV'),
    residualPh: z
      .number()
      .nullable()
      .describe('three buffers: how far the worst lies off their line, pH'),
    sentence: z.string(),
    source: z.string().describe('where the limits come from'),
  })
  .meta({ id: 'CalibrationCheck' })
export type CalibrationCheck = z.infer<typeof calibrationCheck>

export const calibration = z
  .object({
    id,
    probe: z.string(),
    channel: z.string(),
    kind: z.enum(['electrode', 'moisture']),
    at: epochMs,
    points: z.array(bufferPoint).describe('electrode: two or three; moisture: none'),
    temperatureC: z.number().nullable(),
    bufferSet: z.enum(BUFFER_SET_IDS).nullable(),
    dryRaw: z.number().nullable(),
    wetRaw: z.number().nullable(),
    soilPoints: z.array(soilPoint),
    note: z.string(),
    check: calibrationCheck,
  })
  .meta({ id: 'Calibration' })
export type CalibrationView = z.infer<typeof calibration>

export const channelView = z
  .object({
    name: z.string(),
    senses: z.enum(SENSED),
    unit: z.string(),
    depthM: z.number().nullable(),
    described: z.boolean().describe('false: guessed from the name, the probe has not described it'),
    latest: z.number().nullable().describe('newest value as sent; null when the sensor failed'),
    latestAt: epochMs.nullable(),
  })
  .meta({ id: 'Channel' })

/** A probe, the gardener's own or a stranger that waits to be taken in. */
export const probeView = z
  .object({
    id: z.string(),
    name: z.string(),
    adoptedAt: epochMs.nullable().describe('null: a stranger whose readings are kept aside'),
    firstSeenAt: epochMs,
    lastSeenAt: epochMs,
    state: z.enum(['on', 'off', 'sleep', 'unknown']),
    stateAt: epochMs,
    expectedAt: epochMs.nullable(),
    firmware: z.string().nullable(),
    hardware: z.string().nullable(),
    intervalS: z.number().nullable(),
    access: probeAccess,
    spotId: id.nullable(),
    spot: z.string().nullable(),
    bedId: id.nullable(),
    bed: z.string().nullable(),
    channels: z.array(channelView),
    placements: z.array(
      z.object({
        id,
        spotId: id,
        spot: z.string(),
        bed: z.string(),
        from: epochMs,
        to: epochMs.nullable(),
      }),
    ),
    calibrations: z.array(calibration),
  })
  .meta({ id: 'Probe' })
export type ProbeView = z.infer<typeof probeView>

export const probeInput = z.object({ name: nameOrEmpty }).meta({ id: 'ProbeForm' })
export const newProbe = z
  .object({
    id: newProbeId.optional().describe('left out: made from the name'),
    name: nameOrEmpty.default(''),
  })
  .meta({ id: 'NewProbe' })
export const placementInput = z
  .object({
    spotId: id.nullable().describe('null: taken out of the beds'),
    from: epochMs.describe('from when it sits there'),
  })
  .meta({ id: 'PlacementForm' })

export const channelQuery = z.object({
  channel: z.string().describe('a channel of the probe, such as phmv'),
  from: epochQuery.describe('epoch milliseconds, inside'),
  to: epochQuery.describe('epoch milliseconds, outside'),
  points: wholeText(10, 5000)
    .default(600)
    .describe('about how many points at the most, 600 when left out'),
})

/** One channel as sent, as columns of equal length. */
export const channelSeries = z
  .object({
    probe: z.string(),
    channel: z.string(),
    unit: z.string(),
    from: epochMs,
    to: epochMs,
    time: z.array(z.number()),
    count: z.array(z.number()),
    min: column,
    mean: column,
    median: column,
    max: column,
    damaged: damagedStretches.optional(),
  })
  .meta({ id: 'ChannelSeries' })
export type ChannelSeries = z.infer<typeof channelSeries>
