import type { Fan } from './chart/paint-findings.ts'

/** When it leaves its band: most likely day and the days between which it does so 8 times in 10. */
export function leavesRows(
  { leaves, band, time, q50 }: Pick<Fan, 'leaves' | 'band' | 'time' | 'q50'>,
  day: (at: number) => string,
): readonly (readonly [string, string])[] {
  const beyond = `later than ${day(time.at(-1) ?? 0)}`
  if (leaves === null) {
    const first = q50[0] ?? null
    const out = band !== null && first !== null && (first < band.low || first > band.high)
    return [['Leaves its band', out ? 'it is outside already' : beyond]]
  }
  const edge = leaves.edge === 'low' ? 'at the acid edge' : 'at the alkaline edge'
  return [
    [
      'Leaves its band',
      leaves.median === null
        ? `most likely ${beyond}; then ${edge}`
        : `most likely about ${day(leaves.median)}, ${edge}`,
    ],
    [
      'Earliest',
      leaves.earliest === null ? beyond : `${day(leaves.earliest)}; 1 time in 10 sooner`,
    ],
    ['Latest', leaves.latest === null ? beyond : `${day(leaves.latest)}; 1 time in 10 later`],
  ]
}
