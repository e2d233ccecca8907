import type { ApiHost } from './api-host.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import type { Reading } from '#hub/model/reading.ts'

/** Noon of a day, UTC; the day the small garden is looked at. */
export const SMALL_GARDEN_NOW = Date.UTC(2026, 4, 20, 12)

export interface SmallGarden {
  readonly bedId: number
  readonly spots: readonly { readonly id: number; readonly name: string }[]
  /** When its readings begin, epoch ms; one every quarter of an hour until noon of the day. */
  readonly from: number
}

const channel = (
  name: string,
  senses: 'ph.emf' | 'moist.raw' | 'temp.soil' | 'bat',
  unit: string,
  limits: { low: number; high: number } | null,
) => ({
  name,
  senses,
  unit,
  low: limits?.low ?? null,
  high: limits?.high ?? null,
  resolution: null,
  depthM: 0.1,
  from: null,
  described: true,
})

/**
 * One bed, two spots and two probes with readings of some days, by an exact rule: EMF 60 mV falling by 0.01 mV a
 * reading. `kes1` moved from the first spot to the second a day before; `wren2` was never placed.
 */
export async function smallGarden(
  { deps }: ApiHost,
  options: {
    /** @default 3 */
    readonly days?: number
    /** @default 'Heron "Row" \\ north' */
    readonly bed?: string
  } = {},
): Promise<SmallGarden> {
  const { garden, readings } = deps
  const now = SMALL_GARDEN_NOW
  const from = now - (options.days ?? 3) * DAY
  const bed = await garden.addBed(
    {
      name: options.bed ?? 'Heron "Row" \\ north',
      areaM2: 3.2,
      depthM: 0.3,
      texture: 'sandy loam',
      crops: ['tomato'],
      ownBand: { low: 6, high: 6.8 },
    },
    from - DAY,
  )
  const west = (await garden.addSpot(bed.id, 'west'))!
  const east = (await garden.addSpot(bed.id, 'east'))!
  const channels = [
    channel('phmv', 'ph.emf', 'mV', { low: -500, high: 500 }),
    channel('m', 'moist.raw', 'count', null),
    channel('st', 'temp.soil', 'Cel', null),
    channel('bat', 'bat', 'V', null),
  ]
  for (const id of ['kes1', 'wren2']) {
    await garden.hear([{ id, at: from, intervalS: 900, channels }], 10)
    await garden.adoptProbe(id, id === 'kes1' ? 'Kestrel' : 'Wren', from)
  }
  await garden.placeProbe('kes1', west.id, from)
  await garden.placeProbe('kes1', east.id, now - DAY)
  await garden.addCalibration({
    kind: 'electrode',
    probe: 'kes1',
    channel: 'phmv',
    at: from + 12 * HOUR,
    points: [
      { ph: 4, emfMv: 171 },
      { ph: 7, emfMv: 3 },
    ],
    temperatureC: 20,
    note: '',
  })
  const all: Reading[] = []
  for (const probe of ['kes1', 'wren2']) {
    for (let seq = 0, at = from; at < now; seq++, at += 15 * MINUTE) {
      all.push({
        probe,
        boot: 1,
        seq,
        uptimeS: seq * 900,
        at,
        placedBy: 'arrival',
        arrivedAt: at,
        deviceAt: null,
        flags: 0,
        values: [
          { channel: 'phmv', value: 60 - seq / 100 },
          { channel: 'm', value: 500 + (seq % 7) },
          { channel: 'st', value: seq % 10 === 9 ? NaN : 15 },
          { channel: 'bat', value: 3.7 },
        ],
      })
    }
  }
  await readings.append({ readings: all, anchors: [], marks: [], quarantined: [] })
  await readings.settle()
  return { bedId: bed.id, spots: [west, east], from }
}
