import { deserialize, serialize } from 'node:v8'
import type { SpotDay } from '../../model/spot-day.ts'
import type { Remembered } from '../watch-store.ts'
import { migrate } from './migrate.ts'
import { openDatabase, rowOf, rowsOf, transact } from './open-database.ts'
import { serve } from './serve.ts'

const DAY_MS = 86_400_000
/** Every midnight of so many days is kept ... */
const DENSE_DAYS = 14
/** ... and before that one in so many. */
const SPARSE_DAYS = 30

interface StateRow {
  readonly hour: number
  readonly version: number
  readonly state: Uint8Array
}
interface DayRow {
  readonly spot: number
  readonly probe: string
  readonly day: number
  readonly ph: number | null
  readonly hours: number
  readonly moisture: number | null
  readonly available: number | null
  readonly temperature_c: number | null
  readonly apart: number
}

function openWatch(file: string) {
  const db = openDatabase(file)
  migrate(db, new URL('../migrations/watch/', import.meta.url), file)
  const recall = db.prepare(
    `SELECT hour, version, state FROM remembered WHERE bed = ? AND version = ? AND hour <= ?
     ORDER BY hour DESC LIMIT 1`,
  )
  const dropStates = db.prepare('DELETE FROM remembered WHERE bed = ? AND hour > ?')
  const dropDays = db.prepare('DELETE FROM spot_day WHERE bed = ? AND day + ? > ?')
  const dropOtherVersions = db.prepare('DELETE FROM remembered WHERE bed = ? AND version <> ?')
  const keep = db.prepare('INSERT OR REPLACE INTO remembered VALUES (?, ?, ?, ?)')
  const thinStates = db.prepare(
    `DELETE FROM remembered WHERE bed = ?1 AND hour < ?2
     AND (hour % ${DAY_MS} <> 0 OR (hour < ?2 - ${DENSE_DAYS * DAY_MS} AND (hour / ${DAY_MS}) % ${SPARSE_DAYS} <> 0))`,
  )
  const keepDay = db.prepare(
    'INSERT OR REPLACE INTO spot_day VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)',
  )
  const days = db.prepare(
    `SELECT * FROM spot_day WHERE bed = ? AND day >= ? AND day < ? ORDER BY day, spot, probe`,
  )
  const known = (value: number): number | null => (Number.isFinite(value) ? value : null)

  return {
    recallWatch(bedId: number, version: number, notAfter: number): Remembered | null {
      const row = rowOf<StateRow>(recall, bedId, version, notAfter)
      if (row === null) return null
      return { bedId, hour: row.hour, version: row.version, state: deserialize(row.state) }
    },
    rememberWatch(
      bedId: number,
      memory: {
        readonly from: number | null
        readonly states: readonly Omit<Remembered, 'bedId'>[]
        readonly days: readonly SpotDay[]
      },
    ): void {
      transact(db, () => {
        if (memory.from !== null) {
          dropStates.run(bedId, memory.from)
          dropDays.run(bedId, DAY_MS, memory.from)
        }
        let newest = -Infinity
        for (const { hour, version, state } of memory.states) {
          dropOtherVersions.run(bedId, version)
          keep.run(bedId, hour, version, serialize(state))
          newest = Math.max(newest, hour)
        }
        if (Number.isFinite(newest)) thinStates.run(bedId, newest)
        for (const day of memory.days) {
          keepDay.run(
            bedId,
            day.day,
            day.spotId,
            day.probe,
            known(day.ph),
            day.hours,
            known(day.moisture),
            known(day.available),
            known(day.temperatureC),
            day.apart ? 1 : 0,
          )
        }
      })
    },
    spotDays(bedId: number, from: number, to: number): SpotDay[] {
      return rowsOf<DayRow>(days, bedId, from, to).map((row) => ({
        bedId,
        spotId: row.spot,
        probe: row.probe,
        day: row.day,
        ph: row.ph ?? NaN,
        hours: row.hours,
        moisture: row.moisture ?? NaN,
        available: row.available ?? NaN,
        temperatureC: row.temperature_c ?? NaN,
        apart: row.apart === 1,
      }))
    },
    close: (): void => db.close(),
  }
}

export type WatchApi = ReturnType<typeof openWatch>

serve<{ readonly file: string }>(({ file }) => openWatch(file))
