import { expect, test } from 'vitest'
import { stepFor } from '#hub/api/step-for.ts'

const DAY = 86_400_000

test.each([
  [3, 600, 'raw'],
  [4, 600, 'hour'],
  [31, 2000, 'hour'],
  [31, 5000, 'raw'],
  [36, 5000, 'hour'],
  [214, 2000, 'hour'],
  [1825, 2000, 'day'],
  [1825, 5000, 'day'],
] as const)('%i days in %i points are read by %s', (days, points, step) => {
  expect(stepFor(0, days * DAY, points)).toBe(step)
})
