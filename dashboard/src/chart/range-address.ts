import { fromInputTime, toInputTime } from '../input-time.ts'
import { RANGES } from './range.ts'
import type { Range, RangeName } from './range.ts'

/** What stretch of time an address asks for. */
export interface AskedRange {
  readonly name: RangeName
  /** A stretch of its own, which wins over the name. */
  readonly zoom: Range | null
}

const USUAL: RangeName = 'season'

/** Reads `?range=week` or `?from=2026-05-01T00:00&to=2026-05-08T12:00` (the garden's clock); the usual otherwise. */
export function askedRange(search: string, zone: string): AskedRange {
  const given = new URLSearchParams(search)
  const from = fromInputTime(given.get('from') ?? '', zone)
  const to = fromInputTime(given.get('to') ?? '', zone)
  return {
    name: RANGES.find((name) => name === given.get('range')) ?? USUAL,
    zoom: from !== null && to !== null && to > from ? { from, to } : null,
  }
}

/** The query of an address for a stretch of time; '' for the usual one. */
export function rangeSearch({ name, zoom }: AskedRange, zone: string): string {
  const parts: string[] = name === USUAL ? [] : [`range=${name}`]
  if (zoom !== null) {
    parts.push(`from=${toInputTime(zoom.from, zone)}`, `to=${toInputTime(zoom.to, zone)}`)
  }
  return parts.length === 0 ? '' : `?${parts.join('&')}`
}
