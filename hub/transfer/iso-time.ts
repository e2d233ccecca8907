/** Offsets change at a quarter of an hour at the finest. */
const QUARTER = 900_000

/**
 * Writes moments (epoch ms, whole) as ISO 8601 in a zone, with the offset: `2026-05-01T07:15:00+01:00`. Milliseconds
 * only where there are any. `zone` is an IANA zone, or 'UTC', which is written as Z.
 */
export function isoWriter(zone: string): (at: number) => string {
  if (zone === 'UTC') return (at) => isoUtc(at).concat('Z')
  let quarter = NaN
  let shift = 0
  let suffix = ''
  return (at) => {
    const now = Math.floor(at / QUARTER)
    if (now !== quarter) {
      quarter = now
      const there = Temporal.Instant.fromEpochMilliseconds(now * QUARTER).toZonedDateTimeISO(zone)
      shift = there.offsetNanoseconds / 1e6
      suffix = there.offset
    }
    return isoUtc(at + shift) + suffix
  }
}

function isoUtc(at: number): string {
  return new Date(at).toISOString().replace(/(\.000)?Z$/, '')
}
