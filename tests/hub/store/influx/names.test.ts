import fc from 'fast-check'
import { expect, test } from 'vitest'
import { channelOf, FAILED, fieldOf, quoteName } from '#hub/store/influx/names.ts'

test('names that probes use are the names of fields as they are', () => {
  for (const name of ['e1', 'phmv', 'st2', 'at', 'boot', 'seq', 'e1.s'])
    expect(fieldOf(name)).toBe(name)
})

test('a name that could mean something else is written in bytes', () => {
  expect(fieldOf('time')).toBe('%74ime')
  expect(fieldOf('_boot')).toBe('%5Fboot')
  expect(fieldOf('a b')).toBe('a%20b')
  expect(fieldOf(`e1${FAILED}`)).toBe('e1%21')
  expect(fieldOf('x=1,y')).toBe('x%3D1%2Cy')
})

test('every name comes back, and none needs an escape in line protocol', () => {
  fc.assert(
    fc.property(fc.string({ minLength: 1, unit: 'grapheme' }), (name) => {
      const field = fieldOf(name)
      expect(channelOf(field)).toBe(name)
      expect(field).toMatch(/^[A-Za-z0-9%.-][A-Za-z0-9%._-]*$/)
      expect(field).not.toBe('time')
    }),
    { seed: 20_261_126 },
  )
})

test('a quoted name cannot end before its end', () => {
  expect(quoteName('a" , "b')).toBe('"a\\" , \\"b"')
  expect(quoteName('a\\')).toBe('"a\\\\"')
})
