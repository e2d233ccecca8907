import { expect, test } from 'vitest'
import { permutation } from '#hub/analysis/trial/permutation.ts'

test('beds that are all apart: only the true choice and its mirror are as large', () => {
  expect(permutation([1, 2, 3], [4, 5, 6])).toEqual({ ways: 20, asLarge: 2 })
})

test('with one bed a side chance can never be ruled out', () => {
  expect(permutation([0.8], [0])).toEqual({ ways: 2, asLarge: 2 })
})

test('a side of two against three, counted by hand', () => {
  // Means of pairs against the other three: 9 against 2 differs by 7; no other pair comes near.
  expect(permutation([8, 10], [1, 2, 3])).toEqual({ ways: 10, asLarge: 1 })
})

test('beds that did not change: every choice is as good', () => {
  expect(permutation([0.1, 0.1], [0.1, 0.1])).toEqual({ ways: 6, asLarge: 6 })
})

test('nothing is said of a bed without a change, of one side, or of more beds than can be tried', () => {
  expect(permutation([NaN], [1])).toBeNull()
  expect(permutation([], [1, 2])).toBeNull()
  expect(
    permutation(
      Array.from({ length: 10 }, () => 1),
      [1, 2, 3, 4, 5],
    ),
  ).toBeNull()
})
