import { expect, test } from 'vitest'
import { toInside } from '#hub/analysis/measure/units.ts'
import { unitOf } from '#hub/sensorthings/units.ts'

// Fixed points: a volt has a thousand millivolts; water freezes at 273.15 K and 32 °F (NIST SP 811, 2008, B.8).
test('units of the wire become those used inside; others are those already', () => {
  expect(toInside('V', 0.5)).toBe(500)
  expect(toInside('K', 273.15)).toBe(0)
  expect(toInside('degF', 32)).toBeCloseTo(0, 12)
  expect(toInside('%', 35)).toBeCloseTo(0.35, 12)
  expect(toInside('mV', 12.5)).toBe(12.5)
})

test('a unit out of a file that is called as members of objects are is a unit like others', () => {
  for (const unit of ['constructor', '__proto__', 'toString', 'hasOwnProperty', 'valueOf']) {
    expect(toInside(unit, 6.5)).toBe(6.5)
    expect(unitOf(unit)).toEqual({ name: unit, symbol: unit, definition: null })
  }
})
