import { describe, expect, test } from 'vitest'
import type { Entry } from '../../hub/api/schemas/journal.ts'
import { bedDraft, bedOf, commonBand } from '../../dashboard/src/bed-draft.ts'
import { brokerPlace } from '../../dashboard/src/broker-place.ts'
import { bufferPh, calibrationOf } from '../../dashboard/src/calibration-draft.ts'
import type { CalibrationDraft } from '../../dashboard/src/calibration-draft.ts'
import { draftOf, entryOf } from '../../dashboard/src/journal-draft.ts'
import { errorFor, fieldPath, restOf } from '../../dashboard/src/problem.ts'
import { bedView } from './bed-view.ts'

const us = { zone: 'America/Denver', units: 'us' } as const
const metric = { zone: 'Europe/Lisbon', units: 'metric' } as const

describe('journal', () => {
  const stored: Entry = {
    id: 1,
    bedId: 1,
    at: Date.UTC(2026, 6, 1, 12, 0, 42),
    kind: 'treatment',
    material: 'wood ash',
    amountG: 333.3333333333333,
    waterL: null,
    probe: null,
    ph: null,
    method: null,
    text: '',
  }

  test('an entry that was opened and saved untouched is stored as it was', () => {
    for (const where of [us, metric]) {
      const { entry, errors } = entryOf(draftOf(stored, 0, where), where, stored)
      expect(errors).toEqual([])
      const { id: _id, bedId: _bedId, ...same } = stored
      expect(entry).toEqual(same)
    }
  })

  test('ounces are stored as grams', () => {
    const draft = { ...draftOf(stored, 0, us), amount: '10' }
    expect(entryOf(draft, us, stored).entry.amountG).toBeCloseTo(283.49523125)
  })

  test('fields of another kind do not go along', () => {
    const draft = {
      ...draftOf(stored, 0, metric),
      kind: 'sample' as const,
      ph: '6,4',
      method: 'laboratory',
    }
    const { entry } = entryOf(draft, metric, stored)
    expect(entry).toMatchObject({ material: null, amountG: null, ph: 6.4, method: 'laboratory' })
  })

  test('what is no number is said, not dropped', () => {
    const draft = { ...draftOf(stored, 0, metric), amount: 'two cups', at: '' }
    expect(entryOf(draft, metric).errors).toEqual([
      { path: 'amountG', message: "expected a number, got 'two cups'" },
      { path: 'at', message: 'give a day and a time' },
    ])
  })
})

describe('bed', () => {
  test('a bed that was opened and saved untouched is stored as it was', () => {
    const bed = bedView({
      ownBand: { low: 5.5, high: 6.5 },
      crops: [{ slug: 'potato', name: 'Potato' }],
    })
    for (const units of ['us', 'metric'] as const) {
      const made = bedOf(bedDraft(bed, units), units, bed)
      expect(made.errors).toEqual([])
      expect(made.bed).toEqual({
        name: 'Long bed',
        areaM2: 4.4999,
        depthM: 0.3048,
        texture: 'loam',
        crops: ['potato'],
        ownBand: { low: 5.5, high: 6.5 },
      })
    }
  })

  test('twelve inches are 0.3048 m', () => {
    const draft = { ...bedDraft(null, 'us'), name: 'New', area: '9', depth: '12' }
    expect(bedOf(draft, 'us').bed.depthM).toBeCloseTo(0.3048, 12)
    expect(bedOf(draft, 'us').bed.areaM2).toBeCloseTo(0.83612736, 12)
  })

  test('what crops have in common', () => {
    expect(
      commonBand([
        { low: 6, high: 7 },
        { low: 6.5, high: 7.5 },
      ]),
    ).toEqual({ low: 6.5, high: 7 })
    expect(
      commonBand([
        { low: 4.5, high: 5.5 },
        { low: 6, high: 7 },
      ]),
    ).toBeNull()
    expect(commonBand([])).toBeNull()
  })
})

describe('calibration', () => {
  // Potassium hydrogen phthalate, 0.05 mol/kg: 4.005 at 25 degrees, 4.011 at 30 (NBS, J. Res. 81A, 1977).
  const buffer = {
    name: 'phthalate',
    points: [
      { temperatureC: 30, ph: 4.011 },
      { temperatureC: 25, ph: 4.005 },
    ],
  }
  test('buffer pH lies on the straight line between tabulated temperatures', () => {
    expect(bufferPh(buffer, 25)).toBe(4.005)
    expect(bufferPh(buffer, 30)).toBe(4.011)
    expect(bufferPh(buffer, 27.5)).toBeCloseTo(4.008, 10)
  })
  test('outside of the table there is no pH', () => {
    expect(bufferPh(buffer, 24.9)).toBeNull()
    expect(bufferPh(buffer, 30.1)).toBeNull()
  })

  const draft: CalibrationDraft = {
    kind: 'electrode',
    channel: 'phmv',
    at: '2026-07-01T06:00',
    temperature: '77',
    ph: ['7', '4'],
    emf: ['1,5', '-'],
    dry: '',
    wet: '',
    note: '',
    kept: null,
  }
  test('77 degrees Fahrenheit are 25 Celsius, Denver is six hours behind in July', () => {
    const { calibration, errors } = calibrationOf({ ...draft, emf: ['1,5', '172'] }, us)
    expect(errors).toEqual([])
    expect(calibration).toEqual({
      kind: 'electrode',
      channel: 'phmv',
      at: Date.UTC(2026, 6, 1, 12),
      temperatureC: 25,
      points: [
        { ph: 7, emfMv: 1.5 },
        { ph: 4, emfMv: 172 },
      ],
      note: '',
    })
  })
  test('errors carry the path of their field', () => {
    expect(calibrationOf(draft, us).errors).toEqual([
      { path: 'points.1.emfMv', message: "expected a number, got '-'" },
    ])
    const moisture = { ...draft, kind: 'moisture' as const, dry: '3100' }
    expect(calibrationOf(moisture, us).errors).toEqual([
      { path: 'wetRaw', message: 'give a number' },
    ])
  })
})

describe('problems', () => {
  const problem = {
    type: 'about:blank',
    title: 'The request cannot be used',
    status: 400,
    detail: 'a value cannot be used',
    errors: [
      { path: '/body/points/0/ph', message: 'too high' },
      { path: 'name', message: 'a name is needed' },
    ],
  }
  test('paths of any style name the same field', () => {
    expect(['/body/points/0/ph', 'points[0].ph', 'points.0.ph'].map(fieldPath)).toEqual([
      'points.0.ph',
      'points.0.ph',
      'points.0.ph',
    ])
  })
  test('a field gets what is said of it and of its parts', () => {
    expect(errorFor(problem, 'points')).toBe('too high')
    expect(errorFor(problem, 'points.0.ph')).toBe('too high')
    expect(errorFor(problem, 'points.1')).toBeNull()
    expect(errorFor(null, 'name')).toBeNull()
  })
  test('what no field shows stands above the form', () => {
    expect(restOf(problem, ['name'])).toContain('points.0.ph: too high')
    expect(restOf(problem, ['name', 'points'])).toBe('Not saved: please look at the marked fields.')
    expect(restOf({ ...problem, errors: [] }, [])).toBe('a value cannot be used')
    expect(restOf(null, [])).toBeNull()
  })
})

test.each([
  ['mqtt://0.0.0.0:1883', 'hub.home', '1883'],
  ['127.0.0.1:1884', '127.0.0.1', '1884'],
  ['mqtts://broker.example:8883/', 'broker.example', '8883'],
  ['mqtt://[::]:1883', 'hub.home', '1883'],
  ['mqtt://[::1]:1883', '::1', '1883'],
  ['', 'hub.home', '1883'],
])('a probe reaches %j at %s, port %s', (address, host, port) => {
  expect(brokerPlace(address, 'hub.home')).toEqual({ host, port })
})

test('a page that is called by its address says it as programs take it, without brackets', () => {
  expect(brokerPlace('mqtt://[::]:1883', '[fd00::7]')).toEqual({ host: 'fd00::7', port: '1883' })
})
