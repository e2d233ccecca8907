import type { WatchEvent } from '#hub/analysis/watch/event.ts'
import { eventsOf } from '#hub/analysis/watch/events-of.ts'
import type { HourRow, WatchHour } from '#hub/analysis/watch/hour-row.ts'
import { startWatch } from '#hub/analysis/watch/start-watch.ts'
import { stepWatch } from '#hub/analysis/watch/step-watch.ts'
import type { WatchContext, WatchState } from '#hub/analysis/watch/watch-state.ts'
import type { Bed } from '#hub/model/bed.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import type { JournalEntry } from '#hub/model/journal.ts'
import type { SpotDay } from '#hub/model/spot-day.ts'
import { seededRandom } from '#hub/simulator/random.ts'

/** Start of a UTC day; every made bed begins here. */
export const START = Date.UTC(2025, 3, 1)
export const dayAt = (day: number): number => START + day * DAY
export const probeOf = (spot: number): string => `probe-${spot}`

export const BED: Bed = {
  id: 7,
  name: 'Long bed',
  areaM2: 3,
  depthM: 0.3,
  texture: 'loam',
  crops: [],
  ownBand: null,
  rank: 0,
  createdAt: START,
  retiredAt: null,
}

export interface MadeBedOptions {
  readonly seed: number
  readonly days: number
  /** @default 3 */
  readonly spots?: number
  /** Standard deviation of the hourly noise, pH. @default 0.05 */
  readonly sd?: number
  /** Share of it that is kept to the next hour. @default 0.8 */
  readonly keep?: number
  /** Added to the pH of a spot (from 0) at a time in days since the start. @default 0 */
  readonly added?: (spot: number, day: number) => number
  /** Moisture by volume; loam holds about 0.27 at field capacity. @default 0.25 */
  readonly moisture?: (day: number, spot: number) => number
  /** Degrees Celsius. @default 15 */
  readonly celsius?: (day: number) => number
  /** True where a spot is not heard. @default never */
  readonly silent?: (spot: number, day: number) => boolean
  readonly journal?: readonly Partial<JournalEntry>[]
  readonly calibratedAt?: ReadonlyMap<string, readonly number[]>
  /** Probe of a spot at a time. @default one probe in each spot */
  readonly probe?: (spot: number, day: number) => string
}

export interface MadeBed {
  readonly hours: readonly WatchHour[]
  readonly context: WatchContext
}

/** Hours of an invented bed: level of each spot, daily swing, correlated noise, and what the options add. */
export function madeBed(options: MadeBedOptions): MadeBed {
  const { seed, days, spots = 3, sd = 0.05, keep = 0.8 } = options
  const { added = () => 0, moisture = () => 0.25, celsius = () => 15 } = options
  const { silent = () => false, probe = probeOf, journal = [] } = options
  const random = seededRandom(seed)
  const noise = Array.from({ length: spots }, () => random.normal(0, sd))
  const hours: WatchHour[] = []
  for (let i = 0; i < days * 24; i++) {
    const day = i / 24
    const rows: HourRow[] = []
    for (let spot = 0; spot < spots; spot++) {
      noise[spot] = keep * noise[spot]! + random.normal(0, sd * Math.sqrt(1 - keep * keep))
      const swing = 0.08 * Math.sin(2 * Math.PI * day)
      const ph = 6.3 + 0.2 * spot + swing + noise[spot]! + added(spot, day)
      const water = moisture(day, spot) + random.normal(0, 0.002)
      if (silent(spot, day)) continue
      rows.push({
        spotId: spot + 1,
        probe: probe(spot, day),
        ph,
        count: 4,
        raw: (ph - 7) * -58,
        still: false,
        coarse: false,
        flags: 0,
        moisture: water,
        moistureLow: water,
        moistureScale: 'volume',
        temperatureC: celsius(day) + random.normal(0, 0.1),
      })
    }
    if (rows.length > 0) hours.push({ hour: START + i * HOUR, rows })
  }
  return {
    hours,
    context: {
      bed: BED,
      journal: journal.map((entry, i) => ({ ...BLANK, id: i + 1, ...entry })),
      calibratedAt: options.calibratedAt ?? new Map(),
      others: [],
    },
  }
}

export const BLANK: JournalEntry = {
  id: 0,
  bedId: BED.id,
  at: START,
  kind: 'note',
  material: null,
  amountG: null,
  waterL: null,
  probe: null,
  ph: null,
  method: null,
  text: '',
}

export interface Watched {
  readonly state: WatchState
  readonly days: readonly SpotDay[]
  readonly events: readonly WatchEvent[]
  /** Each event as it was first told, by id. */
  readonly first: ReadonlyMap<string, WatchEvent>
}

/** Takes a watch through all hours of a made bed. */
export function watched({ hours, context }: MadeBed): Watched {
  const state = startWatch(BED, START)
  const days: SpotDay[] = []
  const first = new Map<string, WatchEvent>()
  for (const hour of hours) {
    days.push(...stepWatch(state, hour, context))
    for (const event of eventsOf(state)) {
      if (!first.has(event.id)) first.set(event.id, structuredClone(event))
    }
  }
  return { state, days, events: eventsOf(state), first }
}

/** A step of `size` at `from`, days since the start, gone again from `to` on. */
export const step =
  (size: number, from: number, to = Infinity) =>
  (day: number): number =>
    day >= from && day < to ? size : 0

/** From nothing at `from` to `size` at `to`, days since the start, and there it stays. */
export const ramp =
  (size: number, from: number, to: number) =>
  (day: number): number =>
    size * Math.min(1, Math.max(0, (day - from) / (to - from)))
