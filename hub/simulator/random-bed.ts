import { TEXTURE_TABLE } from '../agronomy/textures.ts'
import type { Texture } from '../model/bed.ts'
import { DAY } from '../model/clock.ts'
import {
  type BedEvent,
  type EventKind,
  type ExtraKind,
  planEvents,
  USUAL_KINDS,
} from './bed-events.ts'
import { bedGround, type BedGround } from './bed-ground.ts'
import { planVisits, type Visit } from './bed-visits.ts'
import { probeRecord, type ProbeRecord } from './probe-record.ts'
import { seededRandom } from './random.ts'

export interface RandomBedOptions {
  /** @default 365 */
  readonly days?: number
  /** @default 3 */
  readonly spots?: number
  /** True: three events a year of each usual kind; far more than nature has, to measure recall. @default false */
  readonly withEvents?: boolean
  /** How many of each further kind in all. @default none */
  readonly extra?: Readonly<Partial<Record<ExtraKind, number>>>
  /** Smallest step of pH that the probes show. @default 0.01 */
  readonly resolutionPh?: number
}

/** One labelled bed: what its probes showed every quarter of an hour, and what was true. */
export interface RandomBed {
  readonly seed: number
  /** Epoch ms of sample 0, the start of a UTC day. Sample i was taken `i * SAMPLE_MS` later. */
  readonly startMs: number
  readonly days: number
  readonly resolutionPh: number
  readonly spots: readonly ProbeRecord[]
  readonly ground: BedGround
  /** Class that a gardener would name for this soil. */
  readonly texture: Texture
  /** Ascending in onset. */
  readonly events: readonly BedEvent[]
  /** Ascending in time. */
  readonly visits: readonly Visit[]
}

/** 1 January 2023, 00:00 UTC. */
const FIRST_START_MS = 1_672_531_200_000
const EVENTS_PER_YEAR = 3

/** One random bed with its labels: the same seed and options give the same bed. */
export function randomBed(seed: number, options: RandomBedOptions = {}): RandomBed {
  const { days = 365, spots = 3, withEvents = false, extra = {}, resolutionPh = 0.01 } = options
  const random = seededRandom(seed)
  const startMs = FIRST_START_MS + Math.floor(random.between(0, 365)) * DAY
  const counts: Partial<Record<EventKind, number>> = { ...extra }
  if (withEvents) {
    for (const kind of USUAL_KINDS) counts[kind] = Math.round((EVENTS_PER_YEAR * days) / 365)
  }
  const basePh = random.split('base').between(5.2, 7.4)
  const bed = { startMs, days, spots, resolutionPh, basePh }
  const events = planEvents(random.split('events'), bed, counts)
  const visits = planVisits(random.split('visits'), bed, events)
  const ground = bedGround(random.split('ground'), bed, events)
  return {
    seed,
    startMs,
    days,
    resolutionPh,
    spots: Array.from({ length: spots }, (_, spot) =>
      probeRecord(random.split(`spot ${spot}`), spot, ground, bed, events, visits),
    ),
    ground,
    texture: nearestTexture(ground),
    events,
    visits,
  }
}

/** The class of the texture table whose water limits lie nearest. */
function nearestTexture(soil: { fieldCapacity: number; wiltingPoint: number }): Texture {
  const away = (row: { fieldCapacity: number; wiltingPoint: number }): number =>
    Math.hypot(row.fieldCapacity - soil.fieldCapacity, row.wiltingPoint - soil.wiltingPoint)
  return TEXTURE_TABLE.reduce((best, row) => (away(row) < away(best) ? row : best)).name
}
