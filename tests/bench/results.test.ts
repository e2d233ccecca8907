import { expect, test } from 'vitest'
import { resultsText } from './results.ts'
import { verdict, type BenchRow } from './row.ts'

const RUN = {
  machine: ['Processor: 2 x invented'],
  startedAt: Date.UTC(2026, 4, 1, 10),
  endedAt: Date.UTC(2026, 4, 1, 10, 12),
}
const row = (more: Partial<BenchRow>): BenchRow => ({
  what: 'rows a second',
  value: 50,
  unit: '1/s',
  better: 'more',
  target: 40,
  stretch: 60,
  how: 'counted',
  ...more,
})

test('a row is held against target and stretch in its own direction', () => {
  expect(verdict(row({}))).toBe('met')
  expect(verdict(row({ value: 60 }))).toBe('stretch met')
  expect(verdict(row({ value: 39 }))).toBe('not met')
  expect(verdict(row({ target: null, stretch: null }))).toBe('for the record')
  expect(verdict(row({ better: 'less' }))).toBe('not met')
  expect(verdict(row({ better: 'less', value: 40, stretch: 20 }))).toBe('met')
  expect(verdict(row({ better: 'less', value: 20, stretch: 20 }))).toBe('stretch met')
  // What could not be measured meets nothing.
  expect(verdict(row({ value: NaN }))).toBe('not met')
})

test('the page says when, where, what was reached, and of each target missed why and what next', () => {
  const missed = { why: 'The disk is slow.', next: 'Write less.' }
  const text = resultsText(
    [{ part: 'views', rows: [row({}), row({ what: 'a | pipe', value: 4, missed })] }],
    RUN,
  )
  expect(text).toContain('2026-05-01 10:00 UTC, 12 min')
  expect(text).toContain('- Processor: 2 x invented')
  expect(text).toContain('| rows a second | 50.0 1/s | ≥ 40.0 1/s | ≥ 60.0 1/s | met |')
  expect(text).toContain(String.raw`| a \| pipe | 4.00 1/s |`)
  expect(text).toContain('**a | pipe**: 4.00 1/s, target ≥ 40.0 1/s. Why: The disk is slow.')
  expect(text).toContain('Next: Write less.')
})

test('what could not be measured is said', () => {
  const text = resultsText([{ part: 'views', rows: [row({})] }], {
    ...RUN,
    broken: ["the part 'size' of the bench ended with 1"],
  })
  expect(text).toContain("Not measured: the part 'size' of the bench ended with 1.")
  expect(text).not.toContain('Every target is met')
})

test('no row misses its target in silence, and none stands twice', () => {
  expect(() => resultsText([{ part: 'views', rows: [row({ value: 1 })] }], RUN)).toThrow(
    "'rows a second' misses its target",
  )
  expect(() => resultsText([{ part: 'views', rows: [row({}), row({})] }], RUN)).toThrow(
    "two rows are called 'rows a second'",
  )
})
