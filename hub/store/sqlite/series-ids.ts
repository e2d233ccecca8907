import { rowOf } from './open-database.ts'
import type { Database } from './open-database.ts'

/** A probe as the tables know it. */
export interface ProbeRow {
  readonly id: number
  /** The row of the log up to which it is settled. */
  settledTo: number
}

/** Rows of probes and of their series, made when they are first asked for and remembered. */
export interface SeriesIds {
  readonly probeOf: (name: string) => ProbeRow
  readonly seriesOf: (probe: number, channel: string) => number
  /** What a transaction that failed has made is not there. */
  readonly forget: () => void
}

export function seriesIds(db: Database): SeriesIds {
  const findProbe = db.prepare('SELECT id, settled_to AS settledTo FROM probe WHERE name = ?')
  const addProbe = db.prepare('INSERT INTO probe (name) VALUES (?) RETURNING id')
  const findSeries = db.prepare(
    'SELECT id FROM series WHERE probe = ? AND channel = ? AND timed = 1',
  )
  const addSeries = db.prepare(
    'INSERT INTO series (probe, channel, timed) VALUES (?, ?, 1) RETURNING id',
  )
  const probes = new Map<string, ProbeRow>()
  const series = new Map<number, Map<string, number>>()

  return {
    probeOf(name) {
      let probe = probes.get(name)
      if (probe === undefined) {
        probe = rowOf<ProbeRow>(findProbe, name) ?? {
          id: rowOf<{ id: number }>(addProbe, name)?.id ?? 0,
          settledTo: 0,
        }
        probes.set(name, probe)
      }
      return probe
    },
    seriesOf(probe, channel) {
      let mine = series.get(probe)
      if (mine === undefined) series.set(probe, (mine = new Map<string, number>()))
      let id = mine.get(channel)
      if (id === undefined) {
        const row =
          rowOf<{ id: number }>(findSeries, probe, channel) ??
          rowOf<{ id: number }>(addSeries, probe, channel)
        id = row?.id ?? 0
        mine.set(channel, id)
      }
      return id
    },
    forget() {
      probes.clear()
      series.clear()
    },
  }
}
