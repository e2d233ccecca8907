import { DatabaseSync } from 'node:sqlite'
import fc from 'fast-check'
import { expect, test } from 'vitest'
import { toStored, valueOf } from '#hub/store/sqlite/scaled.ts'

/** What a column of any type gives back. */
function throughColumn(values: readonly number[]): { value: number | null; type: string }[] {
  const db = new DatabaseSync(':memory:')
  db.exec('CREATE TABLE x (i INTEGER PRIMARY KEY, v ANY) STRICT')
  const add = db.prepare('INSERT INTO x (v) VALUES (?)')
  for (const value of values) add.run(toStored(value))
  const rows = db
    .prepare(`SELECT ${valueOf('v')} AS value, typeof(v) AS type FROM x ORDER BY i`)
    .all()
  db.close()
  return rows.map(({ value, type }) => ({ value: value as number | null, type: type as string }))
}

test('a number of up to four decimals stands as a whole number and comes back equal', () => {
  fc.assert(
    fc.property(
      fc.array(
        fc.tuple(fc.integer({ min: -(2 ** 39), max: 2 ** 39 }), fc.integer({ min: 0, max: 4 })),
      ),
      (pairs) => {
        const values = pairs.map(([digits, places]) => Number(`${digits}e-${places}`))
        expect(throughColumn(values)).toEqual(
          values.map((value) => ({ value: value + 0, type: 'integer' })),
        )
      },
    ),
    { seed: 20_260_404 },
  )
})

test('any other finite number comes back equal too', () => {
  fc.assert(
    fc.property(fc.array(fc.double({ noNaN: true, noDefaultInfinity: true })), (values) => {
      expect(throughColumn(values).map(({ value }) => value)).toEqual(values.map((v) => v + 0))
    }),
    { seed: 20_260_405 },
  )
})

test('the edges: a failure is null, and too large or too fine a number stands as it is', () => {
  expect(throughColumn([NaN, 900_719_925_474.0991, 1e12, 0.00005, 1e-4, -1e-4])).toEqual([
    { value: null, type: 'null' },
    { value: 900_719_925_474.0991, type: 'integer' },
    { value: 1e12, type: 'real' },
    { value: 0.00005, type: 'real' },
    { value: 1e-4, type: 'integer' },
    { value: -1e-4, type: 'integer' },
  ])
})
