import { DAY, HOUR } from '../model/clock.ts'
import type { Quantity } from '../model/quantity.ts'
import { gather } from './aggregate/gather.ts'
import { commonMoistureScale } from './aggregate/moisture-scale.ts'
import { robustMean } from './aggregate/robust-mean.ts'
import { perSpot } from './aggregate/same-spot.ts'
import { spotOffsets } from './aggregate/spot-offsets.ts'
import { SPREAD, phSpread } from './aggregate/spread.ts'
import type { Present } from './assessment.ts'
import { FRESH_MS, type ProbeNow, type Shown } from './probe-now.ts'
import { isSoilTemperature } from './quality/gross-range.ts'
import { say } from '../words/say.ts'

export interface ShownProbe {
  readonly probe: ProbeNow
  readonly shown: Shown
  /** Why its pH stays out of the bed value, or null. */
  readonly leftOut: string | null
}

/** The present bed value, and whether its two spots contradict each other. */
export interface BedNow {
  readonly present: Present
  readonly disagree: boolean
}

/** The bed's pH now: the spots that count, each freed of its habit, robustly combined. */
export function phNow(probes: readonly ShownProbe[], at: number): BedNow {
  const counting = probes.filter((p) => p.leftOut === null)
  const leftOut = probes.flatMap((p) =>
    p.leftOut === null ? [] : { spot: p.probe.feed.spot.name, reason: p.leftOut },
  )
  if (counting.length === 0) {
    return { present: { status: 'insufficient', ...missing(probes, leftOut) }, disagree: false }
  }
  const offsets = habits(probes, at)
  const spots = counting.map((p) => p.probe.feed.spot.id)
  const values = perSpot(
    spots,
    counting.map((p) => p.shown.ph - (offsets.get(p.probe.feed.spot.id) ?? 0)),
  )
  const spread = phSpread(
    counting.map(({ probe, shown }) => ({
      calibrationAgeMs: at - newestCalibration(probe),
      uncalibrated: isUncalibrated(probe),
      moistureUnknown: !Number.isFinite(shown.moisture),
    })),
  )
  const mean = robustMean(Array.from(values.values()), spread)
  return {
    present: {
      status: 'ok',
      value: mean.value,
      halfWidth: mean.halfWidth,
      at: Math.max(...counting.map((p) => p.shown.phAt)),
      used: names(counting),
      leftOut,
    },
    disagree: mean.disagree,
  }
}

/** The bed's moisture or soil temperature now. */
export function plainNow(
  probes: readonly ShownProbe[],
  quantity: Exclude<Quantity, 'ph'>,
): Present {
  const scale = commonMoistureScale(probes.map((p) => p.probe.hourly))
  const read = probes.filter(({ shown }) => Number.isFinite(shown[quantity]))
  const otherScale = (p: ShownProbe): boolean => {
    const own = p.probe.hourly.moistureScale
    return quantity === 'moisture' && own !== scale && scale !== 'unknown' && own !== 'unknown'
  }
  const reasonOf = (p: ShownProbe): string | null => {
    if (otherScale(p)) return say`reports moisture on another scale`
    if (quantity === 'temperature' && !isSoilTemperature(p.shown.temperature)) {
      return say`a temperature no soil has`
    }
    return null
  }
  const counting = read.filter((p) => reasonOf(p) === null)
  if (counting.length === 0) {
    return quantity === 'moisture'
      ? {
          status: 'insufficient',
          have: probes.length === 0 ? say`no probe in this bed` : say`no moisture in the last day`,
          need: say`a probe with a moisture channel, and its dry and wet point when it sends raw counts`,
        }
      : {
          status: 'insufficient',
          have:
            probes.length === 0
              ? say`no probe in this bed`
              : say`no soil temperature in the last day`,
          need: say`a probe with a soil temperature channel`,
        }
  }
  const values = perSpot(
    counting.map((p) => p.probe.feed.spot.id),
    counting.map((p) => p.shown[quantity]),
  )
  const mean = robustMean(Array.from(values.values()), SPREAD[quantity])
  return {
    status: 'ok',
    value: mean.value,
    halfWidth: mean.halfWidth,
    at: Math.max(...counting.map((p) => p.shown.at)),
    used: names(counting),
    leftOut: read.flatMap((p) => {
      const reason = reasonOf(p)
      return reason === null ? [] : { spot: p.probe.feed.spot.name, reason }
    }),
  }
}

/** Offset of each spot from the bed, learned from its hours but those of the last day. */
function habits(probes: readonly ShownProbe[], at: number): Map<number, number> {
  const to = at - DAY
  const from = Math.min(...probes.map((p) => p.probe.hourly.time[0] ?? Infinity))
  if (!(from < to)) return new Map()
  const start = Math.floor(from / HOUR) * HOUR
  const grid = { start, stepMs: HOUR, length: Math.floor((to - start) / HOUR) }
  const columns = new Map<number, Float64Array>()
  for (const { probe } of probes) {
    const { value, leftOut } = gather(probe.hourly, 'ph', grid)
    const own = value.map((v, i) => (leftOut[i] === 1 ? NaN : v))
    const other = columns.get(probe.feed.spot.id)
    columns.set(
      probe.feed.spot.id,
      other === undefined
        ? own
        : own.map((v, i) => {
            const o = other[i]!
            return Number.isNaN(v) ? o : Number.isNaN(o) ? v : (v + o) / 2
          }),
    )
  }
  const offsets = spotOffsets(Array.from(columns.values()), HOUR)
  return new Map(Array.from(columns.keys(), (spot, i) => [spot, offsets[i]!]))
}

function newestCalibration({ recent, hourly }: ProbeNow): number {
  const last = recent.calibratedAt.at(-1)
  return last ?? hourly.calibratedAt.at(-1) ?? NaN
}

function names(probes: readonly ShownProbe[]): string[] {
  return Array.from(new Set(probes.map((p) => p.probe.feed.spot.name)))
}

function missing(
  probes: readonly ShownProbe[],
  leftOut: readonly { readonly spot: string; readonly reason: string }[],
): { have: string; need: string } {
  if (probes.length === 0) {
    return { have: say`no probe in this bed`, need: say`a probe placed in one of its spots` }
  }
  const reasons = Array.from(new Set(leftOut.map(({ reason }) => reason)))
  const dry = reasons.includes(say`the soil is too dry to read pH`)
  return {
    have: say`no pH that counts: ${leftOut.map(({ spot, reason }) => `${spot}: ${reason}`).join('; ')}`,
    need: dry
      ? say`moist soil around the electrode`
      : say`one valid pH reading within ${FRESH_MS / HOUR} hours`,
  }
}

/** Its latest pH was read without a calibration in force. */
export function isUncalibrated({ recent, hourly }: ProbeNow): boolean {
  for (const history of [recent, hourly]) {
    const row = history.ph.findLastIndex((ph) => Number.isFinite(ph))
    if (row >= 0) return history.uncalibrated[row] === 1
  }
  return false
}
