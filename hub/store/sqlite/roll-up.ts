import { DAY, HOUR } from '../../model/clock.ts'
import { valueOf } from './scaled.ts'
import type { Database, Statement } from './open-database.ts'

/** Start of the UTC bucket that holds `t`, epoch ms; also right before 1970. */
export const startOf = (t: number, width: number): number => Math.floor(t / width) * width

/** Buckets that changed: series -> start of a UTC day -> one bit for each hour of it. */
export type DirtyBuckets = Map<number, Map<number, number>>

export function markDirty(dirty: DirtyBuckets, series: number, t: number): void {
  const day = startOf(t, DAY)
  let days = dirty.get(series)
  if (days === undefined) dirty.set(series, (days = new Map<number, number>()))
  days.set(day, (days.get(day) ?? 0) | (1 << Math.floor((t - day) / HOUR)))
}

function medianOf(values: Float64Array): number {
  const sorted = values.toSorted()
  const half = sorted.length >> 1
  const upper = sorted[half] ?? NaN
  return sorted.length % 2 === 1 ? upper : ((sorted[half - 1] ?? NaN) + upper) / 2
}

/**
 * Recomputes hourly and daily rows out of `r`. Never incremented: late, repeated and deleted readings
 * then cannot count twice or stay behind. A bucket without any reading loses its row.
 */
export function rollUps(db: Database): (dirty: DirtyBuckets) => void {
  const read = db.prepare(
    `SELECT t, ${valueOf('v')} FROM r WHERE series = ? AND t >= ? AND t < ? ORDER BY t`,
  )
  read.setReturnArrays(true)
  const put = (table: string): Statement =>
    db.prepare(`INSERT OR REPLACE INTO ${table} VALUES (?, ?, ?, ?, ?, ?, ?)`)
  const drop = (table: string): Statement =>
    db.prepare(`DELETE FROM ${table} WHERE series = ? AND t = ?`)
  const hourly = { put: put('hourly'), drop: drop('hourly') }
  const daily = { put: put('daily'), drop: drop('daily') }

  const store = (
    table: { put: Statement; drop: Statement },
    series: number,
    t: number,
    rows: number,
    values: Float64Array,
  ): void => {
    if (rows === 0) {
      table.drop.run(series, t)
      return
    }
    const n = values.length
    if (n === 0) {
      table.put.run(series, t, 0, null, null, null, null)
      return
    }
    let low = Infinity
    let high = -Infinity
    let sum = 0
    for (const value of values) {
      if (value < low) low = value
      if (value > high) high = value
      sum += value
    }
    table.put.run(series, t, n, low, sum / n, high, medianOf(values))
  }

  return (dirty) => {
    for (const [series, days] of dirty) {
      for (const [day, hours] of days) {
        const rows = read.all(series, day, day + DAY) as unknown as [number, number | null][]
        const values = new Float64Array(rows.length)
        let n = 0
        let row = 0
        for (let hour = 0; hour < 24; hour++) {
          const end = day + (hour + 1) * HOUR
          const firstRow = row
          const firstValue = n
          for (; row < rows.length; row++) {
            const [t, value] = rows[row] ?? [Infinity, null]
            if (t >= end) break
            if (value !== null) values[n++] = value
          }
          if ((hours & (1 << hour)) !== 0) {
            const held = values.subarray(firstValue, n)
            store(hourly, series, end - HOUR, row - firstRow, held)
          }
        }
        store(daily, series, day, rows.length, values.subarray(0, n))
      }
    }
  }
}
