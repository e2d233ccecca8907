import { rowOf, rowsOf } from './open-database.ts'
import { Parcel } from './serve.ts'
import { valueOf } from './scaled.ts'
import type { LatestValue } from '../reading-store.ts'
import type { Database } from './open-database.ts'
import type { Remote } from './remote.ts'
import type { ReaderApi } from './reading-reader.ts'

/**
 * The newest value of every series in the order of `names`: thousands of them go from one thread to another as two
 * columns, and their names only when there are new ones.
 */
export interface LatestColumns {
  /** Grows with every new series. */
  readonly version: number
  /** Probe and channel of each row; null: as they were in the version that was given. */
  readonly names: readonly (readonly [probe: string, channel: string])[] | null
  /** Epoch ms; NaN: the series has none. */
  readonly at: Float64Array<ArrayBuffer>
  /** NaN: the sensor failed. */
  readonly value: Float64Array<ArrayBuffer>
}

/** The side of the thread that reads. */
export function latestColumns(db: Database): (version: number) => Parcel<LatestColumns> {
  const findVersion = db.prepare('SELECT coalesce(max(id), 0) AS version FROM series')
  const findSeries = db.prepare(
    `SELECT series.id, name, channel FROM series JOIN probe ON probe.id = series.probe
     WHERE timed = 1 ORDER BY name, channel`,
  )
  const findLatest = db.prepare(`SELECT series, t, ${valueOf('v')} FROM latest`)
  findLatest.setReturnArrays(true)
  let version = -1
  let names: readonly (readonly [string, string])[] = []
  /** Row by the id of the series; -1: none. */
  let places = new Int32Array(0)

  return (known) => {
    db.exec('BEGIN')
    try {
      const now = rowOf<{ version: number }>(findVersion)?.version ?? 0
      if (now !== version) {
        const series = rowsOf<{ id: number; name: string; channel: string }>(findSeries)
        names = series.map(({ name, channel }) => [name, channel])
        places = new Int32Array(now + 1).fill(-1)
        for (const [row, { id }] of series.entries()) places[id] = row
        version = now
      }
      const at = new Float64Array(names.length).fill(NaN)
      const value = new Float64Array(names.length).fill(NaN)
      for (const [series, t, v] of rowsOf<readonly [number, number, number | null]>(findLatest)) {
        const row = places[series] ?? -1
        if (row < 0) continue
        at[row] = t
        value[row] = v ?? NaN
      }
      return new Parcel({ version, names: known === version ? null : names, at, value }, [
        at.buffer,
        value.buffer,
      ])
    } finally {
      db.exec('COMMIT')
    }
  }
}

/** The side that asks. */
export function latestOf(
  reader: Remote<ReaderApi>,
): (probe?: string) => Promise<readonly LatestValue[]> {
  let version = -1
  let names: readonly (readonly [probe: string, channel: string])[] = []
  return async (probe) => {
    if (probe !== undefined) return reader.call('latestOf', [probe])
    const told = await reader.call('latest', [version])
    // Answers come in the order in which they were asked for; the newest names are those of the newest answer.
    if (told.names !== null) names = told.names
    version = told.version
    const { at, value } = told
    const rows: LatestValue[] = []
    for (const [row, [name, channel]] of names.entries()) {
      if (Number.isNaN(at[row]!)) continue
      rows.push({ probe: name, channel, at: at[row]!, value: value[row]! })
    }
    return rows
  }
}
