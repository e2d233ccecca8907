import { readFileSync, writeFileSync } from 'node:fs'
import { type ScoreRow } from './score-row.ts'

/** Values of one run of the score, by the name of their row. */
export type Values = Readonly<Record<string, number | null>>

/** The last score that was looked at and found good. */
export interface Baseline {
  /** All scoring seeds: what the table says. */
  readonly full: Values
  /** The few bed-years that are gone through with every run of the tests. */
  readonly small: Values
}

/** Bed-years per number of spots in the small part; series in proportion. */
export const SMALL_YEARS = 4

const FILE = new URL('baseline.json', import.meta.url)

export function readBaseline(): Baseline {
  return JSON.parse(readFileSync(FILE, 'utf8')) as Baseline
}

export function writeBaseline(baseline: Baseline): void {
  writeFileSync(FILE, `${JSON.stringify(baseline, null, 2)}\n`)
}

/** Four digits; a value that could not be counted is null. */
export function valuesOf(rows: readonly ScoreRow[]): Values {
  return Object.fromEntries(
    rows.map(({ name, value }) => [
      name,
      Number.isFinite(value) ? Number(value.toPrecision(4)) : null,
    ]),
  )
}

/** A value may differ by this share of itself, and by this much at least: one case of forty. */
const TOLERANCE = { share: 0.1, least: 0.03 } as const

/**
 * How a row got worse than its baseline by more than the tolerance, in words; null when it did not. What is only
 * reported may go neither way.
 */
export function worsened(row: ScoreRow, baseline: Values): string | null {
  const known = baseline[row.name]
  if (known === undefined) return `${row.name}: not in the baseline; save it anew`
  if (known === null || Number.isNaN(row.value)) {
    return known === null && Number.isNaN(row.value)
      ? null
      : `${row.name}: ${row.value}, the baseline has ${known}`
  }
  const room = Math.max(TOLERANCE.least, TOLERANCE.share * Math.abs(known))
  const { must } = row
  const higherIsWorse = must === null || must.atMost !== undefined
  const lowerIsWorse = must === null || must.atLeast !== undefined
  const worse =
    (higherIsWorse && row.value > known + room) || (lowerIsWorse && row.value < known - room)
  return worse ? `${row.name}: ${row.value.toFixed(4)}, the baseline has ${known}` : null
}
