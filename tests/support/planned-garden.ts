import type { ApiDeps } from '#hub/api/deps.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import type { NewJournalEntry } from '#hub/model/journal.ts'
import type { Channel } from '#hub/model/probe.ts'
import type { Reading } from '#hub/model/reading.ts'
import type { Stores } from '#hub/store/open.ts'
import { seededRandom } from './random.ts'
import { until } from './until.ts'
import { appendAll } from './watched-garden.ts'

/** First hour of the readings, and when the gardener decides: 60 valid days later, in May. Epoch ms. */
export const PLANNED_FROM = Date.UTC(2027, 2, 10)
export const DECIDED_AT = Date.UTC(2027, 4, 10, 9)

/** Readings are numbered from here. */
const POWER_UP = PLANNED_FROM - 400 * DAY

/** Level of each bed, pH; lettuce wants 6 to 7, so that the first lies 0.7 below its band. */
const LEVELS = { 'Heron Bed': 5.3, 'Rush Bed': 6.5 } as const
const PROBES = {
  'Heron Bed': ['her1', 'her2', 'her3'],
  'Rush Bed': ['rus1', 'rus2'],
} as const
const SOIL_C = 14

const channel = (
  name: string,
  senses: Channel['senses'],
  unit: string,
): Omit<Channel, 'probe'> => ({
  name,
  senses,
  unit,
  low: null,
  high: null,
  resolution: null,
  depthM: null,
  from: null,
  described: true,
})

export interface PlannedGarden {
  /** The bed that lies 0.7 below its band. */
  readonly sour: number
  /** The bed that needs nothing. */
  readonly fine: number
}

/** Two beds of loam with five probes, and a laboratory sample of the sour one. Nothing was read yet. */
export async function plantPlannedGarden(
  { garden }: Pick<Stores, 'garden'>,
  from: number = PLANNED_FROM,
): Promise<PlannedGarden> {
  await garden.setGarden({
    name: 'Tidewater Garden',
    zone: 'Europe/Lisbon',
    units: 'metric',
    language: 'en',
  })
  const ids: number[] = []
  for (const [name, probes] of Object.entries(PROBES)) {
    const bed = await garden.addBed(
      { name, areaM2: 2, depthM: 0.2, texture: 'loam', crops: ['lettuce'], ownBand: null },
      from,
    )
    ids.push(bed.id)
    for (const [i, probe] of probes.entries()) {
      const channels = [
        channel('ph', 'ph', 'pH'),
        channel('vwc', 'vwc', '/'),
        channel('st', 'temp.soil', 'Cel'),
      ]
      await garden.hear([{ id: probe, at: from, channels }], 20)
      await garden.adoptProbe(probe, probe, from)
      const spot = await garden.addSpot(bed.id, `Row ${i + 1}`)
      await garden.placeProbe(probe, spot!.id, from)
    }
  }
  const [sour, fine] = ids as [number, number]
  await garden.addEntry(sampleOf(sour, DECIDED_AT - 8 * DAY, 5.3))
  return { sour, fine }
}

export const sampleOf = (bedId: number, at: number, ph: number): NewJournalEntry => ({
  bedId,
  at,
  kind: 'sample',
  material: null,
  amountG: null,
  waterL: null,
  probe: null,
  ph,
  method: 'laboratory',
  text: 'mixed from ten places',
})

/**
 * Hourly readings of all probes in [from, to). From `limed.at` on the sour bed rises by `limed.rise`, half of it in 30
 * days; before `sank.at` it lay higher by `sank.by` and came down within two days. The other keeps its pH.
 */
export async function readPlannedGarden(
  stores: Pick<Stores, 'readings'>,
  from: number = PLANNED_FROM,
  to: number = DECIDED_AT,
  limed: { readonly at: number; readonly rise: number } | null = null,
  sank: { readonly at: number; readonly by: number } | null = null,
): Promise<void> {
  const random = seededRandom(Math.round(from / HOUR))
  const out: Reading[] = []
  for (let at = Math.ceil(from / HOUR) * HOUR + 60_000; at < to; at += HOUR) {
    const limeDays = limed === null ? 0 : Math.max(0, (at - limed.at) / DAY)
    const fallen = sank === null ? 1 : Math.min(1, Math.max(0, (at - sank.at) / (2 * DAY)))
    const moved = (limed?.rise ?? 0) * (1 - 2 ** (-limeDays / 30)) + (sank?.by ?? 0) * (1 - fallen)
    const hour = Math.round((at - POWER_UP) / HOUR)
    for (const [bed, probes] of Object.entries(PROBES)) {
      const level = LEVELS[bed as keyof typeof LEVELS] + (bed === 'Heron Bed' ? moved : 0)
      for (const [i, probe] of probes.entries()) {
        const ph = level + 0.06 * (i - 1) + 0.06 * (random() - 0.5)
        const warm = SOIL_C + 2 * Math.sin((2 * Math.PI * at) / DAY) + random() - 0.5
        out.push({
          probe,
          boot: 1,
          seq: hour,
          uptimeS: hour * 3600,
          at,
          placedBy: 'device',
          arrivedAt: at,
          deviceAt: at,
          flags: 0,
          values: [
            { channel: 'ph', value: Math.round(ph * 1000) / 1000 },
            { channel: 'vwc', value: Math.round((0.255 + 0.004 * random()) * 1000) / 1000 },
            { channel: 'st', value: Math.round(10 * warm) / 10 },
          ],
        })
      }
    }
  }
  await appendAll(stores, out)
}

/** Resolves once the slow questions of these beds have been gone through up to yesterday. */
export async function goneThrough(
  { watch, clock }: Pick<ApiDeps, 'watch' | 'clock'>,
  beds: readonly number[],
): Promise<void> {
  watch.touch(beds)
  await until(
    'the slow questions',
    () =>
      beds.every((id) => {
        const day = watch.latest(id)?.study?.days.bed.day ?? []
        return (day.at(-1) ?? -Infinity) >= clock() - 2 * DAY
      }),
    30_000,
  )
}
