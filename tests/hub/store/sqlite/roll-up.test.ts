import fc from 'fast-check'
import { expect, test } from 'vitest'
import { statsOf } from '#hub/store/sqlite/roll-up.ts'

/** The same by sorting. */
function sorted(values: readonly number[]) {
  const ascending = values.toSorted((a, b) => a - b)
  const half = ascending.length >> 1
  const upper = ascending[half]!
  return {
    n: values.length,
    low: ascending[0],
    high: ascending.at(-1),
    mean: values.reduce((sum, value) => sum + value, 0) / values.length,
    median: values.length % 2 === 1 ? upper : (ascending[half - 1]! + upper) / 2,
  }
}

const few = fc.integer({ min: -3, max: 3 })
const any = fc.double({ min: -1e6, max: 1e6, noNaN: true }).map((n) => n + 0)

test('low, median and high of values in any order are those of the sorted ones', () => {
  const lists = fc.oneof(
    fc.array(few, { minLength: 1, maxLength: 60 }),
    fc.array(any, { minLength: 1, maxLength: 300 }),
  )
  fc.assert(
    fc.property(lists, (values) => {
      expect(statsOf(Float64Array.from(values))).toEqual(sorted(values))
    }),
  )
})

test('an order that misleads halving round after round costs no more than sorting', () => {
  // Each round finds its place with the greatest value that is left, and comes only one value further.
  const n = 1001
  const values = Array.from({ length: n }, (_, i) => i)
  const order = new Float64Array(n)
  const places = Array.from({ length: n }, (_, i) => i)
  const k = n >> 1
  for (let top = n - 1; top > k; top--) {
    order[places[k]!] = values[top]!
    const place = places[k]!
    places[k] = places[top]!
    places[top] = place
  }
  for (let i = 0; i <= k; i++) order[places[i]!] = values[i]!
  expect(statsOf(order)).toEqual(sorted(values))
})

test('of no values nothing is told', () => {
  expect(statsOf(new Float64Array(0))).toEqual({
    n: 0,
    low: NaN,
    mean: NaN,
    high: NaN,
    median: NaN,
  })
})
