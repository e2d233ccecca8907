import { expect, test } from 'vitest'
import { worsened } from './baseline.ts'
import { atLeast, atMost, between, markOf, type ScoreRow } from './score-row.ts'

const row = (value: number, must: ScoreRow['must'] = null): ScoreRow => ({
  name: 'a',
  value,
  cases: 40,
  must,
  stretch: null,
})

test('a row may get better by any amount, worse by the tolerance', () => {
  expect(worsened(row(0.9, atLeast(0.8)), { a: 0.8 })).toBeNull()
  expect(worsened(row(0.73, atLeast(0.7)), { a: 0.8 })).toBeNull()
  expect(worsened(row(0.71, atLeast(0.7)), { a: 0.8 })).toContain('the baseline has 0.8')
  expect(worsened(row(2, atMost(6)), { a: 4 })).toBeNull()
  expect(worsened(row(4.5, atMost(6)), { a: 4 })).toContain('4.5')
  // Near zero a tenth is nothing: three hundredths are allowed.
  expect(worsened(row(0.02, atMost(0.1)), { a: 0 })).toBeNull()
  expect(worsened(row(0.05, atMost(0.1)), { a: 0 })).not.toBeNull()
})

test('what is only reported, or asked for from both sides, may go neither way', () => {
  expect(worsened(row(0.5), { a: 0.6 })).not.toBeNull()
  expect(worsened(row(0.7), { a: 0.6 })).not.toBeNull()
  expect(worsened(row(0.7, between(0.5, 0.9)), { a: 0.6 })).not.toBeNull()
})

test('a row that is new, or can be counted no more, is told', () => {
  expect(worsened(row(1), {})).toContain('save it anew')
  expect(worsened(row(NaN), { a: 1 })).not.toBeNull()
  expect(worsened(row(NaN), { a: null })).toBeNull()
})

test('marks', () => {
  const asked = { must: atLeast(0.8), stretch: atLeast(0.9) }
  expect(markOf({ ...row(0.85), ...asked })).toBe('must')
  expect(markOf({ ...row(0.95), ...asked })).toBe('stretch')
  expect(markOf({ ...row(0.7), ...asked })).toBe('MISSED')
  expect(markOf({ ...row(NaN), ...asked })).toBe('MISSED')
  expect(markOf(row(0.1))).toBe('')
})
