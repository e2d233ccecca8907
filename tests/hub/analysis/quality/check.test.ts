import { expect, test } from 'vitest'
import { spotHistory } from '#hub/analysis/measure/spot-history.ts'
import {
  checkHistory,
  checkNeighbours,
  FLAG,
  reasonOf,
  type CheckedHistory,
  type CheckOptions,
} from '#hub/analysis/quality/flags.ts'
import { QARTOD } from '#hub/analysis/quality/qartod.ts'
import { QUALITY_TESTS, reasonAt } from '#hub/analysis/quality/quality-tests.ts'
import { qualitySummary } from '#hub/analysis/quality/quality-summary.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import { seededRandom } from '#tests/support/random.ts'
import { feed, normal, NOW, type ProbeRows, type Row } from '../case.ts'

const spots = ['north', 'south', 'east'].map((name, i) => ({ id: i + 1, bedId: 1, name }))

function checked(
  rows: ProbeRows,
  step: 'raw' | 'hour' = 'raw',
  options: CheckOptions = {},
): CheckedHistory {
  const history = spotHistory(feed(rows, 0, spots, step, 0, NOW + 400 * DAY), step)
  return checkHistory(history, 'loam', 0.28, options)
}

function rows(n: number, everyMs: number, value: (i: number) => number): Row[] {
  return Array.from({ length: n }, (_, i) => ({ at: NOW + i * everyMs, value: value(i) }))
}

function soil(seed: number, level = 6.2): (i: number) => number {
  const random = seededRandom(seed)
  return () => level + 0.02 * normal(random)
}

test('a failed value is left out, a suspect one counts, and both are told why', () => {
  const quiet = soil(1)
  const ph = rows(200, 15 * MINUTE, (i) => (i === 40 ? 7.4 : i === 90 ? 6.6 : quiet(i)))
  const { flags, qartod, tests } = checked({ spot: 'north', ph })
  expect([flags[40], qartod[40]]).toEqual([FLAG.spike, QARTOD.fail])
  expect(reasonAt(tests, 40)).toBe(reasonOf(FLAG.spike))
  expect([flags[90], qartod[90]]).toEqual([0, QARTOD.suspect])
  expect(reasonAt(tests, 90)).toBe('it stands out from the values before and after')
  expect([flags[120], qartod[120], reasonAt(tests, 120)]).toEqual([0, QARTOD.pass, null])
})

test('every failed test has a bit and every bit has words; the gravest reason is told first', () => {
  for (const flag of Object.values(FLAG)) expect(reasonOf(flag)).not.toBeNull()
  expect(reasonOf(0)).toBeNull()
  expect(reasonOf(FLAG.dry | FLAG.service)).toBe('the probe is out of the soil or being handled')
  // The words of a row's flag and those of its gravest test say the same.
  const quiet = soil(2)
  const ph = rows(400, 15 * MINUTE, (i) =>
    i === 10 ? NaN : i === 20 ? 0 : i >= 100 && i < 130 ? 6.31 : quiet(i),
  )
  const moisture = rows(400, 15 * MINUTE, (i) =>
    i >= 200 && i < 204 ? 0.01 : i > 300 ? 0.17 : 0.27,
  )
  const temperature = rows(400, 15 * MINUTE, (i) => (i === 60 ? 50 : 18))
  const of = checked({ spot: 'north', ph, moisture, temperature })
  const seen = new Set<string | null>()
  for (let row = 0; row < of.flags.length; row++) {
    if (of.flags[row] === 0) {
      expect([QARTOD.pass, QARTOD.suspect]).toContain(of.qartod[row])
      continue
    }
    seen.add(reasonOf(of.flags[row]!))
    expect(reasonAt(of.tests, row), `row ${row}`).toBe(reasonOf(of.flags[row]!))
  }
  expect(seen).toEqual(
    new Set([
      'no reading',
      'a value no soil can have',
      'the value stands still',
      'too cold or too hot for the electrode',
      'the probe is out of the soil or being handled',
      'the soil is too dry to read pH',
    ]),
  )
})

test('noted services mask their hours only when they are given', () => {
  const quiet = soil(3)
  const ph = rows(60, HOUR, (i) => (i === 30 || i === 31 ? 4.01 : quiet(i)))
  const without = checked({ spot: 'north', ph }, 'hour')
  expect(without.flags[30]).toBe(0)
  const given = checked({ spot: 'north', ph }, 'hour', { serviced: [NOW + 30.4 * HOUR] })
  expect(given.flags[30]).toBe(FLAG.service)
  expect(given.flags[31]).toBe(FLAG.service)
  expect(given.flags[40]).toBe(0)
  expect(given.qartod[40]).toBe(QARTOD.suspect)
  expect(reasonAt(given.tests, 40)).toBe('the probe was handled and still settles')
})

test('what counts in an hour does not hang on later hours, but for a standing value', () => {
  const quiet = soil(4)
  const values = rows(400, HOUR, (i) => (i % 37 === 0 ? quiet(i) + 1.2 : quiet(i)))
  const moisture = rows(400, HOUR, (i) => (i % 90 < 3 ? 0.01 : 0.27 - 0.0004 * (i % 300)))
  const temperature = rows(400, HOUR, (i) => 3 + 3 * Math.sin(i / 30))
  const whole = checked({ spot: 'north', ph: values, moisture, temperature }, 'hour')
  for (const until of [37, 38, 100, 181, 270]) {
    const part = checked(
      {
        spot: 'north',
        ph: values.slice(0, until),
        moisture: moisture.slice(0, until),
        temperature: temperature.slice(0, until),
      },
      'hour',
    )
    const standing = ~FLAG.flat
    expect(
      Array.from(part.flags, (flag) => flag & standing),
      `first ${until} hours`,
    ).toEqual(Array.from(whole.flags.slice(0, until), (flag) => flag & standing))
  }
})

test('the spots of a bed are held against each other', () => {
  const n = 40 * 24
  const of = (name: string, seed: number, from: number): CheckedHistory => {
    const quiet = soil(seed)
    const ph = rows(n, HOUR, (i) => quiet(i) + (i >= from ? 0.8 : 0))
    return checked({ spot: name, ph }, 'hour')
  }
  const bed = [of('north', 5, n), of('south', 6, 800), of('east', 7, n)]
  expect(bed[1]!.tests.neighbours.every((flag) => flag === QARTOD.notEvaluated)).toBe(true)
  const [north, south] = checkNeighbours(bed)
  expect(south!.qartod[850]).toBe(QARTOD.suspect)
  expect(reasonAt(south!.tests, 850)).toBe('it has left the other spots of the bed')
  expect(south!.flags[850], 'suspect counts').toBe(0)
  expect(north!.qartod[850]).toBe(QARTOD.pass)
})

test('a summary counts every row of its window once, for all tests and for each', () => {
  const quiet = soil(8)
  const ph = rows(240, HOUR, (i) => (i === 5 ? NaN : i === 50 ? 1 : i === 150 ? 12 : quiet(i)))
  const of = checked({ spot: 'north', ph }, 'hour')
  const summary = qualitySummary(of, { from: NOW, to: NOW + 100 * HOUR })
  expect(summary.rows).toBe(100)
  expect(summary.all.missing).toBe(1)
  expect(summary.all.fail).toBe(1)
  expect(summary.tests.map(({ test: name }) => name)).toEqual([...QUALITY_TESTS])
  for (const { counts } of [{ counts: summary.all }, ...summary.tests]) {
    const { pass, notEvaluated, suspect, fail, missing } = counts
    expect(pass + notEvaluated + suspect + fail + missing).toBe(100)
  }
  const range = summary.tests.find(({ test: name }) => name === 'grossRange')
  expect(range).toMatchObject({
    counts: { fail: 1, missing: 1 },
    meaning: 'a value no soil can have',
  })
  const nothing = summary.tests.find(({ test: name }) => name === 'flatLine')
  expect(nothing).toMatchObject({ counts: { fail: 0, suspect: 0 }, meaning: null })
  const fast = summary.tests.find(({ test: name }) => name === 'rateOfChange')
  expect(fast).toMatchObject({
    counts: { fail: 0, suspect: 2 },
    meaning: 'it changed faster than soil does',
  })
  expect(qualitySummary(of, { to: NOW }).rows, 'an end before the first row').toBe(0)
  expect(qualitySummary(of).all.fail).toBe(2)
  expect(qualitySummary(of, { from: NOW + 1000 * HOUR }).rows).toBe(0)
  expect(qualitySummary(of, { from: NOW + 9 * HOUR, to: NOW + 3 * HOUR }).rows).toBe(0)
})

test('nothing sent is nothing judged', () => {
  const empty = checked({ spot: 'north', ph: [] })
  expect(empty.qartod).toHaveLength(0)
  expect(qualitySummary(empty).rows).toBe(0)
  expect(checkNeighbours([empty, empty])).toHaveLength(2)
})
