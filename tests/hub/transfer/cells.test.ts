import { expect, test } from 'vitest'
import { conversion, unitsFor } from '#hub/transfer/convert-unit.ts'
import { readNumber } from '#hub/transfer/read-number.ts'

test.each<[string, '.' | ',', number | null | undefined]>([
  ['12.5', '.', 12.5],
  ['-12,5', ',', -12.5],
  ["'-12.5", '.', -12.5],
  ['1e-3', '.', 0.001],
  [' ', '.', null],
  ['NaN', '.', NaN],
  ['n/a', ',', NaN],
  ['12,5', '.', undefined],
  ['1.234,5', ',', undefined],
  ['1 234', '.', undefined],
  ['0x10', '.', undefined],
  ['Infinity', '.', undefined],
  ['1e999', '.', undefined],
  ['wet', '.', undefined],
])("'%s' with '%s' is %s", (cell, decimal, expected) => {
  expect(readNumber(cell, decimal)).toEqual(expected)
})

const convert = (value: number, from: string, to: string): number => {
  const found = conversion(from, to)
  return found === null ? NaN : value * found.factor + found.add
}

// Fixed points of the scales: water freezes at 32 °F and 273.15 K and boils at 212 °F (NIST SP 811, 2008, B.8).
test('units of files', () => {
  expect(convert(32, '°F', 'Cel')).toBeCloseTo(0, 12)
  expect(convert(212, 'degF', 'Cel')).toBeCloseTo(100, 12)
  expect(convert(273.15, 'K', 'Cel')).toBe(0)
  expect(convert(0.25, 'V', 'mV')).toBe(250)
  expect(convert(3700, 'mV', 'V')).toBeCloseTo(3.7, 12)
  expect(convert(35, '%', '/')).toBeCloseTo(0.35, 12)
  expect(convert(7, '', 'pH')).toBe(7)
  expect(conversion('mV', 'pH')).toBeNull()
  expect(unitsFor('mV')).toEqual(['mV', 'V'])
  expect(convert(-90, 'dBW', 'dBm')).toBe(-60)
})

test('names of object members are no units', () => {
  for (const unit of ['constructor', '__proto__', 'toString', 'hasOwnProperty', 'valueOf']) {
    for (const other of ['name', 'length', 'prototype', unit]) {
      expect(conversion(other, unit)).toEqual(other === unit ? { factor: 1, add: 0 } : null)
    }
    expect(unitsFor(unit)).toEqual([unit])
  }
})
