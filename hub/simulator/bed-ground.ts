import { totalAvailableWater } from '../agronomy/moisture-limits.ts'
import { DAY, HOUR } from '../model/clock.ts'
import { type BedEvent, SAMPLE_MS } from './bed-events.ts'
import { wander } from './hourly-track.ts'
import { stepBucket } from './moisture.ts'
import type { Random } from './random.ts'
import { eventChange, responseShare } from './soil.ts'
import { weather, yearShare } from './weather.ts'

/** True state of one bed, one row for every sample. */
export interface BedGround {
  /** At the probes' depth, degrees Celsius, and its mean over the years. */
  readonly temperatureC: Float64Array
  readonly meanC: number
  /** Water content of the root zone, m3/m3, and its share of the available water (above 1 while it drains). */
  readonly moisture: Float64Array
  readonly available: Float64Array
  readonly fieldCapacity: number
  readonly wiltingPoint: number
  /** Soil pH of the bed as a whole, and the value it swings about. */
  readonly ph: Float64Array
  readonly basePh: number
  /** Rain of each hour, mm; and waterings by the gardener. */
  readonly rainMm: Float64Array
  readonly waterings: readonly { readonly at: number; readonly mm: number }[]
}

/** Depth of the probes, m. */
export const PROBE_DEPTH_M = 0.12
const ROOT_DEPTH_M = 0.25
/** Water that the soil takes above field capacity, m3/m3, and the hours in which 1/e of it is left. */
const ROOM = 0.15
const DRAIN_H = 20
/** Share of the available water that is used without stress. */
const P = 0.4
const WATERING = { hour: 7, from: 0.9 * P, keenness: 0.7, refill: 0.8 } as const
const NEGLECT_DAYS = 18
const RAIN_DIP = { floorPh: -0.6, mostPh: 0.4, lag: 0.7 } as const
const WOBBLE = { sd: 0.05, hours: 15 * 24 } as const
/** How fast a jump of temperature by cold water is gone, h. */
const JUMP_H = 8

/**
 * Weather, water and soil pH of one random temperate bed: a damped temperature wave, Markov rain, the root-zone
 * balance of FAO-56 under a hobby gardener with spells of neglect, and a soil pH of base, season, falls after rain
 * and slow wander, moved by the events that are the soil's.
 */
export function bedGround(
  random: Random,
  bed: { readonly startMs: number; readonly days: number; readonly basePh: number },
  events: readonly BedEvent[],
): BedGround {
  const { startMs, days, basePh } = bed
  const hours = days * 24
  const traits = random.split('traits')
  const meanC = traits.between(8, 14)
  const sky = weather(
    {
      meanC,
      yearC: traits.between(7, 11),
      dayC: traits.between(3, 6),
      warmingDay: 110,
      diffusivity: 5e-7,
      spellC: 2,
      wetAfterDry: [0.25, 0.25],
      wetAfterWet: [0.5, 0.5],
      wetDayMm: 6,
      et0Mm: [2.7, 2.4],
      solarOffsetH: 0,
    },
    startMs,
    random.split('weather'),
  )
  const rainMm = Float64Array.from({ length: hours }, (_, hour) => sky.rainMm.hour(hour))
  const fieldCapacity = traits.between(0.24, 0.36)
  const wiltingPoint = fieldCapacity * traits.between(0.35, 0.45)

  const water = rootZone(random.split('water'), bed, events, {
    fieldCapacity,
    wiltingPoint,
    rainMm,
    et0Mm: (hour) => sky.et0Mm(hour),
  })
  const slow = undisturbed(random.split('soil'), bed, rainMm)

  const samples = hours * 4
  const temperatureC = new Float64Array(samples)
  const moisture = new Float64Array(samples)
  const available = new Float64Array(samples)
  const ph = new Float64Array(samples)
  for (let i = 0; i < samples; i++) {
    const hour = i >> 2
    const share = (i & 3) / 4
    const next = Math.min(hour + 1, hours - 1)
    temperatureC[i] = sky.soilC(PROBE_DEPTH_M, startMs + i * SAMPLE_MS)
    const theta = water.moisture[hour]! * (1 - share) + water.moisture[next]! * share
    moisture[i] = theta
    available[i] = (theta - wiltingPoint) / (fieldCapacity - wiltingPoint)
    ph[i] = slow[hour]! * (1 - share) + slow[next]! * share
  }
  for (const event of events) disturb(event, startMs, ph, temperatureC)
  return {
    temperatureC,
    meanC,
    moisture,
    available,
    fieldCapacity,
    wiltingPoint,
    ph,
    basePh,
    rainMm,
    waterings: water.waterings,
  }
}

/** Water content hour by hour, and what the gardener gave. */
function rootZone(
  random: Random,
  bed: { readonly startMs: number; readonly days: number },
  events: readonly BedEvent[],
  soil: {
    readonly fieldCapacity: number
    readonly wiltingPoint: number
    readonly rainMm: Float64Array
    readonly et0Mm: (hour: number) => number
  },
): { moisture: Float64Array; waterings: { at: number; mm: number }[] } {
  const { startMs, days } = bed
  const away = new Uint8Array(days)
  const spells = Math.max(1, Math.round((days / 365) * random.between(1, 2)))
  for (let n = 0; n < spells; n++) {
    const from = Math.floor(random.between(0, Math.max(1, days - 20)))
    away.fill(1, from, from + NEGLECT_DAYS)
  }
  const poured = new Map<number, number>()
  for (const { onset, waterMm } of events) {
    if (waterMm > 0) poured.set(Math.floor((onset - startMs) / HOUR), waterMm)
  }
  const tawMm = totalAvailableWater({ ...soil, rootDepthM: ROOT_DEPTH_M })
  const roomMm = ROOM * 1000 * ROOT_DEPTH_M
  const drains = 1 - Math.exp(-1 / DRAIN_H)
  const moisture = new Float64Array(days * 24)
  const waterings: { at: number; mm: number }[] = []
  let depletionMm = 0.3 * tawMm
  for (let hour = 0; hour < moisture.length; hour++) {
    let mm = soil.rainMm[hour]! + (poured.get(hour) ?? 0)
    const due = depletionMm > WATERING.from * tawMm && away[Math.floor(hour / 24)] === 0
    if (hour % 24 === WATERING.hour && due && random.chance(WATERING.keenness)) {
      const given = WATERING.refill * depletionMm
      waterings.push({ at: startMs + hour * HOUR, mm: given })
      mm += given
    }
    const bucket = { depletionMm, tawMm, roomMm, p: P }
    depletionMm = Math.min(tawMm, stepBucket(bucket, soil.et0Mm(hour), mm, drains).depletionMm)
    moisture[hour] = soil.fieldCapacity - depletionMm / (1000 * ROOT_DEPTH_M)
  }
  return { moisture, waterings }
}

/** Soil pH that nobody disturbs, hour by hour. */
function undisturbed(
  random: Random,
  bed: { readonly startMs: number; readonly basePh: number },
  rainMm: Float64Array,
): Float64Array {
  const seasonPh = random.between(0.03, 0.25)
  const seasonAt = random.uniform()
  const phPerMm = random.between(0.003, 0.01)
  const keep = Math.exp(-1 / (24 * random.between(3, 10)))
  const wobble = wander(bed.startMs, random.split('wobble'), WOBBLE.sd, WOBBLE.hours)
  const out = new Float64Array(rainMm.length)
  let dip = 0
  let felt = 0
  for (let hour = 0; hour < out.length; hour++) {
    const fall = Math.min(RAIN_DIP.mostPh, phPerMm * rainMm[hour]!)
    dip = Math.max(RAIN_DIP.floorPh, dip * keep - fall)
    felt = RAIN_DIP.lag * felt + (1 - RAIN_DIP.lag) * dip
    const season = Math.sin(2 * Math.PI * (yearShare(bed.startMs + hour * HOUR) - seasonAt))
    out[hour] = bed.basePh + seasonPh * season + felt + wobble.hour(hour)
  }
  return out
}

/** Adds what an event does to the soil; those of probes and controller are none of the soil's. */
function disturb(
  event: BedEvent,
  startMs: number,
  ph: Float64Array,
  temperatureC: Float64Array,
): void {
  const first = Math.round((event.onset - startMs) / SAMPLE_MS)
  const { kind, response, onset } = event
  if (kind === 'freezing') {
    const frost = event.lastingMs / SAMPLE_MS
    for (let i = first; i < Math.min(first + frost, ph.length); i++) {
      // The snap takes the soil from where it is to just below freezing, whatever the season.
      const depth = Math.sin((Math.PI * (i - first)) / frost)
      temperatureC[i] = temperatureC[i]! * (1 - depth) + (event.jumpC / 4) * depth
    }
    return
  }
  if (event.jumpC !== 0) {
    for (let i = first; i < ph.length; i++) {
      const jump = event.jumpC * Math.exp(-((i - first) / 4) / JUMP_H)
      if (Math.abs(jump) < 0.01) break
      temperatureC[i]! += jump
    }
  }
  if (response !== null) {
    for (let i = first; i < ph.length; i++) {
      const days = (startMs + i * SAMPLE_MS - onset) / DAY
      ph[i]! += response.peakPh * responseShare(response, days)
    }
    return
  }
  if (event.spot !== null || kind === 'controller fault') return
  const change = {
    bed: '',
    at: onset - SAMPLE_MS,
    changePh: event.sizePh,
    rampMs: event.lastingMs,
    returnHalfDays: event.returnHalfDays,
  }
  for (let i = first; i < ph.length; i++) ph[i]! += eventChange(change, startMs + i * SAMPLE_MS)
}
