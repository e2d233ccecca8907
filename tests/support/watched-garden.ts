import { DAY, HOUR } from '#hub/model/clock.ts'
import type { Channel } from '#hub/model/probe.ts'
import type { Reading } from '#hub/model/reading.ts'
import type { Stores } from '#hub/store/open.ts'
import { seededRandom } from './random.ts'

/** First hour of the invented garden, epoch ms. */
export const FIRST = 1_780_000_000_000 - (1_780_000_000_000 % DAY)

const PROBES = {
  fern: ['fern1', 'fern2', 'fern3'],
  moss: ['moss1', 'moss2'],
} as const

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

/** Two beds, five probes, a treatment in the journal. Resolves to the ids of the beds. */
export async function plantGarden({ garden }: Pick<Stores, 'garden'>): Promise<number[]> {
  const ids: number[] = []
  for (const [name, probes] of Object.entries(PROBES)) {
    const bed = await garden.addBed(
      { name, areaM2: 2, depthM: 0.3, texture: 'loam', crops: ['lettuce'], ownBand: null },
      FIRST,
    )
    ids.push(bed.id)
    for (const probe of probes) {
      await garden.hear(
        [
          {
            id: probe,
            at: FIRST,
            channels: [channel('ph', 'ph', 'pH'), channel('vwc', 'vwc', '/')],
          },
        ],
        20,
      )
      await garden.adoptProbe(probe, probe, FIRST)
      const spot = await garden.addSpot(bed.id, `${name} ${probe.slice(-1)}`)
      await garden.placeProbe(probe, spot!.id, FIRST)
    }
  }
  await garden.addEntry({
    bedId: ids[0]!,
    at: FIRST + 17.5 * DAY,
    kind: 'treatment',
    material: 'wood ash',
    amountG: 200,
    waterL: null,
    probe: null,
    ph: null,
    method: null,
    text: '',
  })
  return ids
}

/**
 * Half-hourly readings of all probes over so many days: a wetting with a dip of both beds on day 10, a jump of moss2
 * alone on day 14, a jump of the fern bed on day 18, a day without moss1 on day 20.
 */
export function gardenReadings(days: number, seed = 1): Reading[] {
  const random = seededRandom(seed)
  const out: Reading[] = []
  let seq = 0
  for (let at = FIRST + 60_000; at < FIRST + days * DAY; at += HOUR / 2) {
    seq += 1
    const day = (at - FIRST) / DAY
    const wet = day >= 10 ? Math.exp(-(day - 10) / 3) : 0
    for (const [bed, probes] of Object.entries(PROBES)) {
      for (const [i, probe] of probes.entries()) {
        if (probe === 'moss1' && day >= 20 && day < 21) continue
        let ph = (bed === 'fern' ? 6.4 : 5.8) + 0.1 * i + 0.05 * Math.sin(2 * Math.PI * day)
        ph -= 0.6 * wet
        if (bed === 'fern' && day >= 18) ph += 1.3
        if (probe === 'moss2' && day >= 14) ph -= 0.9
        ph += (random() - 0.5) * 0.08
        const vwc = 0.24 + 0.08 * wet + (random() - 0.5) * 0.004
        out.push({
          probe,
          boot: 1,
          seq,
          uptimeS: Math.round((at - FIRST) / 1000),
          at,
          placedBy: 'device',
          arrivedAt: at,
          deviceAt: at,
          flags: 0,
          values: [
            { channel: 'ph', value: Math.round(ph * 1000) / 1000 },
            { channel: 'vwc', value: Math.round(vwc * 1000) / 1000 },
          ],
        })
      }
    }
  }
  return out
}

export async function appendAll(
  { readings }: Pick<Stores, 'readings'>,
  all: readonly Reading[],
): Promise<void> {
  for (let i = 0; i < all.length; i += 2000) {
    await readings.append({
      readings: all.slice(i, i + 2000),
      anchors: [],
      marks: [],
      quarantined: [],
    })
  }
  await readings.settle()
}
