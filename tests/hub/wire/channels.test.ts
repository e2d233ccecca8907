import { expect, test } from 'vitest'
import { describedChannel, guessChannel } from '#hub/wire/channels.ts'

test.each([
  ['phmv', 'ph.emf', 'mV'],
  ['ph', 'ph', 'pH'],
  ['m', 'moist.raw', 'count'],
  ['m1', 'moist.raw', 'count'],
  ['m9', 'moist.raw', 'count'],
  ['vwc', 'vwc', '/'],
  ['st', 'temp.soil', 'Cel'],
  ['st2', 'temp.soil', 'Cel'],
  ['at', 'temp.air', 'Cel'],
  ['bat', 'bat', 'V'],
  ['rssi', 'rssi', 'dBm'],
  ['m10', 'other', ''],
  ['x', 'other', ''],
])('%s most likely senses %s in %s', (name, senses, unit) => {
  expect(guessChannel(name)).toMatchObject({ name, senses, unit, described: false })
})

test('a description wins over the name', () => {
  expect(describedChannel('m1', { q: 'vwc', u: '/', d: 0.15, lo: 0, hi: 1, lsb: 0.001 })).toEqual({
    name: 'm1',
    senses: 'vwc',
    unit: '/',
    low: 0,
    high: 1,
    resolution: 0.001,
    depthM: 0.15,
    from: null,
    described: true,
  })
})
