import { beforeAll, expect, test } from 'vitest'
import { readBaseline, SMALL_YEARS, worsened } from './baseline.ts'
import { score, SCORED } from './score.ts'
import { reaches, type ScoreRow } from './score-row.ts'

const { full, small } = readBaseline()
let rows: readonly ScoreRow[] = []

beforeAll(async () => {
  const few = await score({ parts: SCORED, set: 'scoring', years: SMALL_YEARS, threads: 2 })
  rows = few.rows
}, 300_000)

test('nothing that is scored got worse on the few beds gone through here', () => {
  expect(rows.length).toBeGreaterThan(100)
  expect(rows.map((row) => worsened(row, small)).filter((text) => text !== null)).toEqual([])
})

test('every row of the stored score reaches what it must', () => {
  const asked = rows.filter(({ must }) => must !== null)
  expect(asked.length).toBeGreaterThan(40)
  const missed = asked.filter(({ name, must }) => !reaches(full[name] ?? NaN, must!))
  expect(missed.map(({ name }) => `${name}: ${full[name]}`)).toEqual([])
})

test('the stored score is about the rows that are scored, all of them', () => {
  const names = rows.map(({ name }) => name).toSorted()
  expect(new Set(names).size).toBe(names.length)
  expect(Object.keys(full).toSorted()).toEqual(names)
  expect(Object.keys(small).toSorted()).toEqual(names)
})
