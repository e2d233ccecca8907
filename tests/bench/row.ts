/**
 * One row of the table that `npm run bench` prints and writes. A part of the bench is a file that exports
 * `rows(): Promise<readonly BenchRow[]>`; it measures, judges nothing, and leaves nothing behind.
 */
export interface BenchRow {
  /** What is measured, in words; its own within the table. */
  readonly what: string
  readonly value: number
  /** Of value, target and stretch: 'ms', 'bytes', 'MB', 'values/s'; '' for a ratio. */
  readonly unit: string
  /** Which way is good. */
  readonly better: 'less' | 'more'
  /** Null: for the record only. */
  readonly target: number | null
  /** What would be fine work. @default null */
  readonly stretch?: number | null
  /** How it was measured: amounts, rounds, what stands against what. One sentence. */
  readonly how: string
  /** Told when the target is not met, and must be there then: why, and what would come next. */
  readonly missed?: { readonly why: string; readonly next: string }
}

/** A part of the bench. Parts run one after the other, never side by side. */
export interface BenchPart {
  rows(): Promise<readonly BenchRow[]>
}

export type Verdict = 'stretch met' | 'met' | 'not met' | 'for the record'

const reaches = ({ value, better }: BenchRow, aim: number): boolean =>
  better === 'less' ? value <= aim : value >= aim

export function verdict(row: BenchRow): Verdict {
  if (row.target === null) return 'for the record'
  if (!reaches(row, row.target)) return 'not met'
  const stretch = row.stretch ?? null
  return stretch !== null && reaches(row, stretch) ? 'stretch met' : 'met'
}
