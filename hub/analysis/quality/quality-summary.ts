import type { CheckedHistory } from './flags.ts'
import { QARTOD } from './qartod.ts'
import { QUALITY_TESTS, type QualityTest, TEST_WORDS } from './quality-tests.ts'
import { said } from '../../words/say.ts'

/** How many rows carry each flag. */
export interface FlagCounts {
  pass: number
  notEvaluated: number
  suspect: number
  fail: number
  missing: number
}

export interface QualitySummary {
  /** Rows in the window, and how many carry each flag as their gravest. */
  readonly rows: number
  readonly all: Readonly<FlagCounts>
  readonly tests: readonly {
    readonly test: QualityTest
    readonly name: string
    readonly counts: Readonly<FlagCounts>
    /** What a failed or suspect row has, in words; null when there is none such. */
    readonly meaning: string | null
  }[]
}

/** Counts of flags by test, over the rows `from <= time < to`, epoch ms. */
export function qualitySummary(
  { time, qartod, tests }: Pick<CheckedHistory, 'time' | 'qartod' | 'tests'>,
  window: {
    /** @default -Infinity */
    readonly from?: number
    /** @default Infinity */
    readonly to?: number
  } = {},
): QualitySummary {
  const { from = -Infinity, to = Infinity } = window
  const first = time.findIndex((at) => at >= from)
  const start = first < 0 ? time.length : first
  const past = time.findIndex((at) => at >= to)
  const end = Math.max(start, past < 0 ? time.length : past)
  return {
    rows: end - start,
    all: counted(qartod, start, end),
    tests: QUALITY_TESTS.map((test) => {
      const counts = counted(tests[test], start, end)
      const { name, fail, suspect } = TEST_WORDS[test]
      const meaning = counts.fail > 0 ? fail : counts.suspect > 0 ? suspect : null
      return { test, name: said(name), counts, meaning: meaning === null ? null : said(meaning) }
    }),
  }
}

function counted(flags: Uint8Array, from: number, to: number): FlagCounts {
  const counts: FlagCounts = { pass: 0, notEvaluated: 0, suspect: 0, fail: 0, missing: 0 }
  const names = Object.entries(QARTOD) as [keyof FlagCounts, number][]
  const nameOf = new Map(names.map(([name, flag]) => [flag, name]))
  for (let row = from; row < to; row++) {
    const name = nameOf.get(flags[row]!)
    if (name === undefined) throw new Error(`flag ${flags[row]} is none of those in use`)
    counts[name]++
  }
  return counts
}
