import { DAY, HOUR } from '#hub/model/clock.ts'
import type { Channel } from '#hub/model/probe.ts'
import type { Reading } from '#hub/model/reading.ts'
import type { Stores } from '#hub/store/open.ts'
import { appendAll } from './watched-garden.ts'
import { seededRandom } from './random.ts'

/** First hour of the readings, epoch ms. */
export const BEGIN = Date.UTC(2027, 2, 1)
/** When the bed sank, over two days. */
const SINKS = Date.UTC(2027, 4, 4)
const SINKS_OVER = 2 * DAY
const SUNK_BY = 0.75

const PROBES = { 'Willow Frame': ['wil1', 'wil2', 'wil3'], 'Otter Bed': ['ott1', 'ott2'] } as const

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

/** Two beds of loam with their probes; resolves to the id of the one that sinks. */
export async function plantSunkenGarden({ garden }: Pick<Stores, 'garden'>): Promise<number> {
  await garden.setGarden({ name: 'Tidewater Garden', zone: 'Europe/Lisbon', units: 'metric' })
  const ids: number[] = []
  for (const [name, probes] of Object.entries(PROBES)) {
    const bed = await garden.addBed(
      { name, areaM2: 2, depthM: 0.15, texture: 'loam', crops: ['lettuce'], ownBand: null },
      BEGIN,
    )
    ids.push(bed.id)
    for (const [i, probe] of probes.entries()) {
      await garden.hear(
        [
          {
            id: probe,
            at: BEGIN,
            channels: [
              channel('ph', 'ph', 'pH'),
              channel('vwc', 'vwc', '/'),
              channel('st', 'temp.soil', 'Cel'),
            ],
          },
        ],
        20,
      )
      await garden.adoptProbe(probe, probe, BEGIN)
      const spot = await garden.addSpot(bed.id, `Row ${i + 1}`)
      await garden.placeProbe(probe, spot!.id, BEGIN)
    }
  }
  return ids[0]!
}

/**
 * Hourly readings of all probes in [from, to): Willow Frame sinks by 0.75 pH early in May and stays there; from
 * `limedAt` on it rises again by `rise`, half of it in 30 days. Otter Bed keeps its pH.
 */
export async function readSunkenGarden(
  stores: Pick<Stores, 'readings'>,
  from: number,
  to: number,
  limed: { readonly at: number; readonly rise: number } | null = null,
): Promise<void> {
  const random = seededRandom(Math.round(from / HOUR))
  const out: Reading[] = []
  for (let at = from + 60_000; at < to; at += HOUR) {
    const sunk = SUNK_BY * Math.min(1, Math.max(0, (at - SINKS) / SINKS_OVER))
    const limeDays = limed === null ? 0 : Math.max(0, (at - limed.at) / DAY)
    const risen = (limed?.rise ?? 0) * (1 - 2 ** (-limeDays / 30))
    for (const [bed, probes] of Object.entries(PROBES)) {
      for (const [i, probe] of probes.entries()) {
        const level = bed === 'Willow Frame' ? 6.45 - sunk + risen : 6.5
        const ph = level + 0.06 * (i - 1) + 0.04 * (random() - 0.5)
        const hour = Math.round((at - BEGIN) / HOUR)
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
            {
              channel: 'st',
              value:
                Math.round(10 * (15 + 2 * Math.sin((2 * Math.PI * at) / DAY) + random())) / 10,
            },
          ],
        })
      }
    }
  }
  await appendAll(stores, out)
}
