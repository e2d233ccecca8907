import { statSync } from 'node:fs'
import { rowOf, rowsOf, openDatabase } from './open-database.ts'
import { wholeDays } from './day-parts.ts'
import { serve } from './serve.ts'
import { pagesOf } from './shrinking.ts'
import { thinnedDay } from './thinned-day.ts'
import type { StoreSize, Thinnable } from '../retention/upkeep.ts'

/** Days that are thinned to see what comes of it, spread over all that would be. */
const TRIED = 40

const sizeOf = (file: string): number => {
  try {
    return statSync(file).size
  } catch {
    // The write-ahead log comes and goes.
    return 0
  }
}

/** Counts and measures in a thread of its own: it may take seconds, and nobody else waits. */
function openMeasure(file: string) {
  const db = openDatabase(file, { readOnly: true })
  const findTally = db.prepare('SELECT name, n FROM tally')
  const findValues = db.prepare('SELECT coalesce(sum(n), 0) AS n FROM daily')
  const findThinned = db.prepare(
    'SELECT thinned_to AS before FROM probe WHERE thinned_to IS NOT NULL',
  )
  const findProbes = db.prepare('SELECT id FROM probe ORDER BY id')
  const findDayValues = db.prepare(
    `SELECT t, sum(n) AS n, count(*) AS channels FROM series JOIN daily ON daily.series = series.id
     WHERE probe = ? AND t < ? GROUP BY t`,
  )
  const days = wholeDays(db)

  return {
    size(): StoreSize {
      db.exec('BEGIN')
      try {
        const tally = new Map(
          rowsOf<{ name: string; n: number }>(findTally).map(({ name, n }) => [name, n]),
        )
        const count = (name: string): number => tally.get(name) ?? 0
        const { pageBytes, all, empty, shrinks } = pagesOf(db)
        const thinned = rowsOf<{ before: number }>(findThinned).map(({ before }) => before)
        const hourBytes = count('hour bytes')
        const values = rowOf<{ n: number }>(findValues)?.n ?? 0
        return {
          bytes: sizeOf(file) + sizeOf(`${file}-wal`),
          emptyBytes: empty * pageBytes,
          readings: count('readings') - count('thinned'),
          values: Math.max(0, values - count('thinned values')),
          readingBytes: Math.max(0, (all - empty) * pageBytes - hourBytes),
          hours: count('hours'),
          hourBytes,
          thinnedTo: thinned.length === 0 ? null : Math.max(...thinned),
          shrinks,
        }
      } finally {
        db.exec('COMMIT')
      }
    },
    wouldThin(before: number): Thinnable {
      const sum = { readings: 0, values: 0, bytes: 0, hours: 0, daysKept: 0 }
      const all: { probe: number; day: number; bytes: number }[] = []
      for (const { id: probe } of rowsOf<{ id: number }>(findProbes)) {
        const { worth, kept } = days.of(probe, before)
        sum.daysKept += kept
        if (worth.length === 0) continue
        const held = new Map(
          rowsOf<{ t: number; n: number; channels: number }>(
            findDayValues,
            probe,
            BigInt(before),
          ).map((row) => [row.t, row]),
        )
        for (const { day, readings, bytes } of worth) {
          const own = held.get(day)
          sum.readings += readings
          sum.bytes += bytes
          sum.values += own?.n ?? 0
          sum.hours += 24 * (own?.channels ?? 0)
          all.push({ probe, day, bytes })
        }
      }
      let tried = 0
      let came = 0
      const step = Math.max(1, all.length / TRIED)
      for (let i = 0; i < all.length; i += step) {
        const { probe, day, bytes } = all[Math.floor(i)]!
        const { hours, bodies } = thinnedDay(days.parts(probe, day))
        tried += bytes
        came += hours.length + bodies.reduce((total, { length }) => total + length, 0)
      }
      return { ...sum, hourBytes: tried === 0 ? 0 : Math.round((sum.bytes * came) / tried) }
    },
    close: (): void => db.close(),
  }
}

export type MeasureApi = ReturnType<typeof openMeasure>

serve<{ readonly file: string }>(({ file }) => openMeasure(file))
