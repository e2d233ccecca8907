import { expect, test } from 'vitest'
import { assessed } from '#tests/support/watched.ts'
import type { Assessment } from '#hub/analysis/assessment.ts'
import { bandFor } from '#hub/analysis/band.ts'
import { standingOf } from '#hub/analysis/standing.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import type { JournalEntry } from '#hub/model/journal.ts'
import { seededRandom } from '#tests/support/random.ts'
import { NOW, type ProbeRows, type Row, bed, electrode, series, soil } from './case.ts'

function quiet(
  seed: number,
  level: number,
  extra?: (at: number) => number,
  from = NOW - 46 * DAY,
): Row[] {
  return soil({
    random: seededRandom(seed),
    from,
    to: NOW,
    everyMs: 15 * MINUTE,
    level,
    noise: 0.05,
    swing: 0.05,
    season: 0,
    seasonPhase: 0,
    ...(extra === undefined ? {} : { extra }),
  })
}

function spots(extra: readonly ((at: number) => number)[], level = 6.4): ProbeRows[] {
  return extra.map((of, i) => ({ spot: `spot ${i + 1}`, ph: quiet(i + 1, level, of) }))
}

const still = (): number => 0
const step = (size: number, at: number) => (t: number) => (t >= at ? size : 0)

function entry(change: Partial<JournalEntry>): JournalEntry {
  return {
    id: 7,
    bedId: 1,
    at: NOW,
    kind: 'note',
    material: null,
    amountG: null,
    waterL: null,
    probe: null,
    ph: null,
    method: null,
    text: '',
    ...change,
  }
}

function look(
  probes: readonly ProbeRows[],
  journal: readonly JournalEntry[] = [],
  at = NOW,
): Assessment {
  return assessed(bed(), series(probes, at), journal, at)
}

test('a quiet bed inside its band has nothing to do', () => {
  const a = look(spots([still, still, still]))
  expect(a.ph).toMatchObject({ status: 'ok', used: ['spot 1', 'spot 2', 'spot 3'], leftOut: [] })
  if (a.ph.status === 'ok') {
    expect(Math.abs(a.ph.value - 6.4)).toBeLessThan(0.15)
    expect(a.ph.halfWidth).toBeLessThan(0.4)
    expect(a.ph.at).toBe(NOW)
  }
  expect(a.standing).toBe('in band')
  expect(a.shift).toBeNull()
  expect(a.probes).toEqual([])
  expect(a.sentence).toMatch(
    /^pH 6\.\d ± 0\.\d, inside its band of 6\.0 to 6\.8\. Nothing to do\.$/,
  )
  expect(a.moisture).toMatchObject({ status: 'insufficient' })
})

test('a shift of all spots is harmful, with its start, its size and the journal entry that may explain it', () => {
  const began = NOW - 5 * HOUR
  const lime = entry({ id: 3, kind: 'treatment', material: 'wood ash', at: NOW - 2 * DAY })
  const a = look(spots([step(1.5, began), step(1.4, began), step(1.6, began)]), [lime])
  expect(a.shift).toMatchObject({
    grade: 'harmful',
    spotsMoved: ['spot 1', 'spot 2', 'spot 3'],
    spotsSteady: [],
    journalId: 3,
  })
  const shift = a.shift!
  expect(Math.abs(shift.change - 1.5)).toBeLessThan(0.2)
  expect(shift.to - shift.from).toBeCloseTo(shift.change, 9)
  expect(Math.abs(shift.change - 1.5)).toBeLessThan(shift.changeHalfWidth + 0.1)
  expect(Math.abs(shift.since - began)).toBeLessThanOrEqual(30 * MINUTE)
  expect(shift.sureness).toBeGreaterThan(0.9)
  expect(a.sentence).toContain('wood ash')
  expect(a.sentence).toContain('Measure by hand')
})

test('a slow slide of 1.5 in 25 days is a harmful shift too', () => {
  const slide = (t: number): number => (-1.5 * Math.max(0, t - (NOW - 25 * DAY))) / (25 * DAY)
  const a = look(spots([slide, slide, slide]))
  expect(a.shift?.grade).toBe('harmful')
  expect(a.shift!.change).toBeLessThan(-1.2)
  expect(NOW - a.shift!.since).toBeGreaterThan(10 * DAY)
})

test('0.7 on all spots is an early warning once it has stayed for three hours', () => {
  const extra = (began: number) => [step(-0.7, began), step(-0.75, began), step(-0.7, began)]
  expect(look(spots(extra(NOW - 2 * HOUR))).shift).toBeNull()
  expect(look(spots(extra(NOW - 5 * HOUR))).shift?.grade).toBe('early')
})

test('a level that has stayed for more than 30 days is the normal one', () => {
  const began = NOW - 36 * DAY
  expect(look(spots([step(1.6, began), step(1.6, began)])).shift).toBeNull()
})

test('a bed that came back to where it was has no shift', () => {
  const spill = (t: number): number => (t >= NOW - 12 * DAY && t < NOW - 2 * DAY ? -1.5 : 0)
  expect(look(spots([spill, spill, spill]), [], NOW - 3 * DAY).shift?.grade).toBe('harmful')
  expect(look(spots([spill, spill, spill])).shift).toBeNull()
})

test('one probe that moved alone is a probe check, and stays out of the bed value', () => {
  const a = look(spots([still, step(-1.8, NOW - 8 * HOUR), still]))
  expect(a.shift).toBeNull()
  expect(a.probes).toHaveLength(1)
  expect(a.probes[0]).toMatchObject({
    kind: 'apart from the bed',
    probe: 'probe2',
    needsCheck: true,
  })
  expect(a.ph).toMatchObject({ status: 'ok', used: ['spot 1', 'spot 3'] })
  expect(a.sentence).toContain('probe2')
  expect(a.spots[1]!.leftOut).toMatch(/moved by itself/)
})

test('two spots of which one moved: no shift, one check, a wide interval', () => {
  const a = look(spots([still, step(-2.4, NOW - 8 * HOUR)]))
  expect(a.shift).toBeNull()
  expect(a.probes.map(({ probe }) => probe)).toEqual(['probe2'])
  expect(a.ph.status === 'ok' && a.ph.halfWidth > 1).toBe(true)
  expect(a.sentence).toContain('two spots')
})

test('a bed with one probe waits a day and is never quite sure', () => {
  expect(look(spots([step(1.8, NOW - 20 * HOUR)])).shift).toBeNull()
  const a = look(spots([step(1.8, NOW - 30 * HOUR)]))
  expect(a.shift?.grade).toBe('harmful')
  expect(a.shift!.sureness).toBeLessThanOrEqual(0.6)
  expect(a.sentence).toContain('may be the electrode')
})

test('a recalibration of every probe is not a change of the soil', () => {
  // The soil stays at 6.4; the electrodes were 1.2 off until they were calibrated two days ago.
  const when = NOW - 2 * DAY
  const probes = [1, 2, 3].map((n): ProbeRows => {
    const probe = `probe${n}`
    return {
      spot: `spot ${n}`,
      probe,
      ph: quiet(n, 6.4),
      calibrations: [electrode(probe, 1, { offsetMv: -70 }), electrode(probe, when, { id: 2 })],
    }
  })
  const a = look(probes)
  expect(a.shift).toBeNull()
  expect(a.probes).toEqual([])
  expect(a.ph.status === 'ok' && Math.abs(a.ph.value - 6.4) < 0.15).toBe(true)
})

test('a service noted in the journal explains the step of one probe, and only of that one', () => {
  const probes = spots([step(0.9, NOW - 30 * HOUR), still, still])
  const service = (probe: string): JournalEntry =>
    entry({ kind: 'service', probe, at: NOW - 30 * HOUR })
  expect(look(probes, [service('probe1')]).probes).toEqual([])
  expect(look(probes, [service('probe2')]).probes.map(({ probe }) => probe)).toEqual(['probe1'])
})

test('a newly placed probe that reads differently is no shift', () => {
  const probes = spots([still, still])
  const young = NOW - 20 * HOUR
  const a = look([
    ...probes,
    { spot: 'spot 3', probe: 'newcomer', ph: quiet(9, 7.9, undefined, young), from: young },
  ])
  expect(a.shift).toBeNull()
  expect(a.probes).toEqual([])
})

test('readings that fell because the soil dried do not count and raise nothing', () => {
  const dryFrom = NOW - 3 * DAY
  const probes = spots([step(-1.5, dryFrom), step(-1.5, dryFrom)]).map((p) => ({
    ...p,
    moisture: p.ph.map(({ at }) => ({ at, value: at < dryFrom ? 0.27 : 0.17 })),
  }))
  const a = look(probes)
  expect(a.shift).toBeNull()
  expect(a.ph).toMatchObject({ status: 'insufficient', need: 'moist soil around the electrode' })
  expect(a.probes.map(({ kind, needsCheck }) => [kind, needsCheck])).toEqual([
    ['dry soil', false],
    ['dry soil', false],
  ])
  expect(a.sentence).toContain('too dry')
  expect(a.spots[0]!.ph).not.toBeNull()
  expect(a.standing).toBe('unknown')
})

test('stuck, impossible and uncalibrated probes are told', () => {
  const [a, b, c] = spots([still, still, still])
  const last = (rows: readonly Row[], hours: number, value: number): Row[] =>
    rows.map((row) => (row.at > NOW - hours * HOUR ? { ...row, value } : row))
  const found = look([
    // It shows hundredths: less than a day on one of them would be nothing odd.
    { ...a!, ph: last(a!.ph, 30, 6.41) },
    { ...b!, ph: last(b!.ph, 8, 14) },
    { ...c!, calibrations: [] },
  ])
  expect(found.probes.map(({ probe, kind, needsCheck }) => [probe, kind, needsCheck])).toEqual([
    ['probe1', 'flat line', true],
    ['probe2', 'out of range', true],
    ['probe3', 'uncalibrated', false],
  ])
  expect(found.ph).toMatchObject({ status: 'ok', used: ['spot 3'] })
})

test('an uncalibrated electrode has a wider doubt than a calibrated one', () => {
  const one = spots([still])
  const known = look(one)
  const unknown = look(one.map((p) => ({ ...p, calibrations: [] })))
  if (known.ph.status !== 'ok' || unknown.ph.status !== 'ok') throw new Error('no value')
  expect(unknown.ph.halfWidth).toBeGreaterThan(known.ph.halfWidth + 0.05)
  expect(unknown.sentence).toContain('Not calibrated yet: probe1')
})

test.each<[string, ProbeRows[]]>([
  ['no probe', []],
  ['a probe that never sent anything', [{ spot: 'spot 1', ph: [] }]],
  ['one reading', [{ spot: 'spot 1', ph: [{ at: NOW - HOUR, value: 6.5 }] }]],
  [
    'only failed readings',
    [{ spot: 'spot 1', ph: quiet(1, 6).map((r) => ({ ...r, value: NaN })) }],
  ],
  ['only temperature', [{ spot: 'spot 1', ph: [], temperature: quiet(1, 18) }]],
  [
    'weeks of silence',
    [{ spot: 'spot 1', ph: quiet(1, 6).filter(({ at }) => at < NOW - 20 * DAY) }],
  ],
  [
    'a gap of weeks',
    [
      {
        spot: 'spot 1',
        ph: quiet(1, 6).filter(({ at }) => at < NOW - 30 * DAY || at > NOW - HOUR),
      },
    ],
  ],
  ['times in the wrong order', [{ spot: 'spot 1', ph: quiet(1, 6).toReversed() }]],
  [
    'two probes in one spot',
    [
      { spot: 'spot 1', probe: 'one1', ph: quiet(1, 6) },
      { spot: 'spot 1', probe: 'two2', ph: quiet(2, 6.2) },
    ],
  ],
])('%s is answered, without a failure and with something to do', (_, probes) => {
  const a = look(probes)
  expect(a.shift).toBeNull()
  expect(a.sentence.length).toBeGreaterThan(20)
  expect(a.sentence).not.toMatch(/NaN|undefined|null|Infinity/)
  for (const value of [a.ph, a.moisture, a.temperature]) {
    if (value.status === 'ok') {
      expect(Number.isFinite(value.value) && Number.isFinite(value.halfWidth)).toBe(true)
      expect(Number.isFinite(value.at)).toBe(true)
    } else expect(`${value.have} ${value.need}`).not.toMatch(/NaN|undefined/)
  }
  for (const spot of a.spots) {
    for (const value of [spot.ph, spot.moisture, spot.temperatureC, spot.at]) {
      expect(value === null || Number.isFinite(value)).toBe(true)
    }
  }
})

test('a probe that moved away no longer speaks for the bed', () => {
  const of = series(spots([still, still]), NOW)
  const left = (feeds: typeof of.hourly) => ({
    ...feeds,
    feeds: feeds.feeds.map((f, i) => (i === 0 ? { ...f, to: NOW - 10 * DAY } : f)),
  })
  const a = assessed(bed(), { hourly: left(of.hourly), recent: left(of.recent) }, [], NOW)
  expect(a.spots.map(({ probe }) => probe)).toEqual(['probe2'])
})

test('bands: own, one crop, several, none that all can share, none at all', () => {
  expect(bandFor(bed({ ownBand: { low: 5.5, high: 6 } }))).toMatchObject({
    status: 'own',
    band: { low: 5.5, high: 6 },
  })
  expect(bandFor(bed())).toMatchObject({ status: 'crops', band: { low: 6, high: 6.8 } })
  const several = bandFor(bed({ crops: ['tomato', 'basil', 'carrot'] }))
  expect(several).toMatchObject({ status: 'crops', band: { low: 6, high: 6.8 } })
  expect(several.sentence).toContain('Basil')
  const empty = bandFor(bed({ crops: ['blueberry_highbush', 'cabbage', 'kale'] }))
  expect(empty).toMatchObject({ status: 'empty', band: null })
  expect(empty.sentence).toMatch(/Blueberry.*\(4\.5 to 5\.3\) and Cabbage \(6\.0 to 7\.0\)/)
  // Potato ends where lettuce begins: one point is no band.
  expect(bandFor(bed({ crops: ['potato', 'lettuce'] })).status).toBe('empty')
  expect(bandFor(bed({ crops: [] })).status).toBe('none')
  const stranger = bandFor(bed({ crops: ['tomato', 'moonflower'] }))
  expect(stranger.status).toBe('crops')
  expect(stranger.sentence).toContain('moonflower')
})

test.each([
  [6.4, 0.2, 'in band'],
  [6.1, 0.4, 'in band'],
  [6.05, 0.05, 'in band'],
  [6.05, 0.3, 'unsure'],
  [5.9, 0.3, 'unsure'],
  [5.75, 0.3, 'below'],
  [5.9, 0.05, 'below'],
  [7.1, 0.4, 'above'],
  [6.9, 0.2, 'unsure'],
] as const)('standing of %d ± %d against 6.0 to 6.8 is %s', (value, halfWidth, standing) => {
  const present = { status: 'ok', value, halfWidth, at: 0, used: [], leftOut: [] } as const
  expect(standingOf(present, { low: 6, high: 6.8 })).toBe(standing)
  expect(standingOf(present, null)).toBe('unknown')
})
