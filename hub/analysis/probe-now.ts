import { DAY } from '../model/clock.ts'
import type { BedFeeds, SpotFeed } from '../model/feed.ts'
import type { Texture } from '../model/bed.ts'
import { median } from './stats/median.ts'
import { spotHistory } from './measure/spot-history.ts'
import { fieldCapacity } from './quality/dry-soil.ts'
import { type CheckedHistory, FLAG, checkHistory, reasonOf } from './quality/flags.ts'
import { lasting } from '../words/figure.ts'
import { say } from '../words/say.ts'

/** One probe that sits in one spot of the bed now, with its hours and its latest readings. */
export interface ProbeNow {
  readonly feed: SpotFeed
  readonly hourly: CheckedHistory
  readonly recent: CheckedHistory
}

/** What a probe shows at this time. */
export interface Shown {
  /** NaN when nothing was read in the last day. */
  readonly ph: number
  /** The newest reading alone, whether it counts or not. */
  readonly newestPh: number
  readonly moisture: number
  readonly temperature: number
  /** When the newest of these was read, epoch ms; NaN when never. */
  readonly at: number
  readonly phAt: number
  /** Why its pH does not count, or null. */
  readonly leftOut: string | null
  /** Bits of `FLAG` behind `leftOut`. */
  readonly flags: number
}

/** Readings older than this say nothing of now. */
export const FRESH_MS = DAY
/** The present level is the median of so many readings: two odd ones cannot move it. */
export const LEVEL_READINGS = 5

/** Probes whose placement reaches to the end of the range; older placements belong to the past. */
export function probesNow(series: {
  readonly hourly: BedFeeds
  readonly recent: BedFeeds
}): ProbeNow[] {
  const key = (feed: SpotFeed): string => `${feed.spot.id}/${feed.probe}`
  const current = (feeds: BedFeeds): Map<string, SpotFeed> =>
    new Map(
      feeds.feeds.filter((feed) => feed.to >= feeds.to).map((feed) => [key(feed), feed] as const),
    )
  const hourly = current(series.hourly)
  const recent = current(series.recent)
  const texture = series.hourly.bed.texture
  return Array.from(new Set([...hourly.keys(), ...recent.keys()]), (of) => {
    const feed = hourly.get(of) ?? recent.get(of)!
    const nothing: SpotFeed = { ...feed, channels: [] }
    return probeNow(feed, hourly.get(of) ?? nothing, recent.get(of) ?? nothing, texture)
  })
}

function probeNow(
  feed: SpotFeed,
  hourlyFeed: SpotFeed,
  recentFeed: SpotFeed,
  texture: Texture,
): ProbeNow {
  const hours = spotHistory(hourlyFeed, 'hour')
  const capacity = fieldCapacity(hours, texture)
  return {
    feed,
    hourly: checkHistory(hours, texture, capacity),
    recent: checkHistory(spotHistory(recentFeed, 'raw'), texture, capacity),
  }
}

/** What the probe shows at `at`: medians of its latest readings, or of its latest hours when there are none. */
export function shownBy(probe: ProbeNow, at: number): Shown {
  const { recent, hourly } = probe
  const history = latestRow(recent, recent.ph, at) >= 0 ? recent : hourly
  const rows = latestRows(history, history.ph, at, LEVEL_READINGS)
  const flagged = rows.filter((row) => history.flags[row] !== 0)
  const spoilt = rows.length > 0 && flagged.length * 2 > rows.length
  const counting = spoilt
    ? rows
    : latestRows(history, history.ph, at, LEVEL_READINGS, (row) => history.flags[row] === 0)
  const flags = spoilt ? history.flags[flagged[0]!]! : rows.length === 0 ? FLAG.missing : 0
  const phAt = counting[0] === undefined ? NaN : history.time[counting[0]]!
  const moisture = latestOf(probe, 'moisture', at)
  const temperature = latestOf(probe, 'temperature', at)
  return {
    ph: median(counting.map((row) => history.ph[row]!)),
    newestPh: rows[0] === undefined ? NaN : history.ph[rows[0]]!,
    moisture: moisture.value,
    temperature: temperature.value,
    at: Math.max(...[phAt, moisture.at, temperature.at].filter(Number.isFinite), -Infinity),
    phAt,
    leftOut: rows.length === 0 ? whyNothing(probe, at) : reasonOf(flags),
    flags,
  }
}

function latestOf(
  { recent, hourly }: ProbeNow,
  quantity: 'moisture' | 'temperature',
  at: number,
): { value: number; at: number } {
  const history = latestRow(recent, recent[quantity], at) >= 0 ? recent : hourly
  const rows = latestRows(history, history[quantity], at, LEVEL_READINGS)
  return {
    value: median(rows.map((row) => history[quantity][row]!)),
    at: rows[0] === undefined ? NaN : history.time[rows[0]]!,
  }
}

/** Indexes of the newest rows with a finite value within the last day, newest first. */
export function latestRows(
  history: CheckedHistory,
  column: Float64Array,
  at: number,
  most: number,
  accept: (row: number) => boolean = () => true,
): number[] {
  const rows: number[] = []
  for (let row = history.time.length - 1; row >= 0 && rows.length < most; row--) {
    if (history.time[row]! < at - FRESH_MS) break
    if (Number.isFinite(column[row]) && accept(row)) rows.push(row)
  }
  return rows
}

function latestRow(history: CheckedHistory, column: Float64Array, at: number): number {
  return latestRows(history, column, at, 1)[0] ?? -1
}

function whyNothing({ hourly, recent }: ProbeNow, at: number): string {
  if (!hourly.hasPhChannel && !recent.hasPhChannel) {
    return hourly.time.length + recent.time.length === 0
      ? say`nothing has come from this probe yet`
      : say`this probe has sent no pH`
  }
  const last = hourly.time.findLast((_, row) => Number.isFinite(hourly.ph[row]))
  return last === undefined ? say`no pH reading` : say`no pH reading for ${lasting(at - last)}`
}
