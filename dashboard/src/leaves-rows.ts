import type { Fan } from './chart/paint-fan.ts'
import { say } from './say.ts'

/** When it leaves its band: most likely day and the days between which it does so 8 times in 10. */
export function leavesRows(
  { leaves, band, time, q50 }: Pick<Fan, 'leaves' | 'band' | 'time' | 'q50'>,
  day: (at: number) => string,
): readonly (readonly [string, string])[] {
  const beyond = say`later than ${day(time.at(-1) ?? 0)}`
  if (leaves === null) {
    const first = q50[0] ?? null
    const out = band !== null && first !== null && (first < band.low || first > band.high)
    return [[say`Leaves its band`, out ? say`it is outside already` : beyond]]
  }
  const acid = leaves.edge === 'low'
  const when = leaves.median === null ? null : day(leaves.median)
  const most =
    when === null
      ? acid
        ? say`most likely ${beyond}; then at the acid edge`
        : say`most likely ${beyond}; then at the alkaline edge`
      : acid
        ? say`most likely about ${when}, at the acid edge`
        : say`most likely about ${when}, at the alkaline edge`
  return [
    [say`Leaves its band`, most],
    [
      say`Earliest`,
      leaves.earliest === null ? beyond : say`${day(leaves.earliest)}; 1 time in 10 sooner`,
    ],
    [say`Latest`, leaves.latest === null ? beyond : say`${day(leaves.latest)}; 1 time in 10 later`],
  ]
}
