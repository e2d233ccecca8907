import { rowOf, rowsOf, transact } from './open-database.ts'
import type {
  BufferPoint,
  BufferSetId,
  Calibration,
  Channel,
  NewCalibration,
  Placement,
  Probe,
  SoilPoint,
} from '../../model/probe.ts'
import type { ProbeNews } from '../garden-store.ts'
import type { Database } from './open-database.ts'

const PROBE = `id, name, adopted_at AS adoptedAt, first_seen_at AS firstSeenAt,
  last_seen_at AS lastSeenAt, state, state_at AS stateAt, expected_at AS expectedAt, firmware,
  hardware, interval_s AS intervalS`
const CHANNEL = `probe, name, senses, unit, low, high, resolution, depth_m AS depthM,
  derived_from AS "from", described`
const PLACEMENT = 'id, probe, spot AS spotId, since AS "from", until AS "to"'

interface CalibrationRow {
  readonly id: number
  readonly kind: Calibration['kind']
  readonly probe: string
  readonly channel: string
  readonly at: number
  readonly ph_1: number
  readonly emf_mv_1: number
  readonly ph_2: number
  readonly emf_mv_2: number
  readonly ph_3: number | null
  readonly emf_mv_3: number | null
  readonly buffer_set: BufferSetId | null
  readonly temperature_c: number
  readonly dry_raw: number
  readonly wet_raw: number
  readonly soil_points: string
  readonly note: string
}

function toCalibration(row: CalibrationRow): Calibration {
  const { id, probe, channel, at, note } = row
  if (row.kind === 'moisture') {
    return {
      kind: 'moisture',
      id,
      probe,
      channel,
      at,
      dryRaw: row.dry_raw,
      wetRaw: row.wet_raw,
      soilPoints: JSON.parse(row.soil_points) as SoilPoint[],
      note,
    }
  }
  const third: BufferPoint[] =
    row.ph_3 === null || row.emf_mv_3 === null ? [] : [{ ph: row.ph_3, emfMv: row.emf_mv_3 }]
  return {
    kind: 'electrode',
    id,
    probe,
    channel,
    at,
    points: [
      { ph: row.ph_1, emfMv: row.emf_mv_1 },
      { ph: row.ph_2, emfMv: row.emf_mv_2 },
      ...third,
    ],
    temperatureC: row.temperature_c,
    bufferSet: row.buffer_set,
    note,
  }
}

/** One row of the calibration table, in the order of its columns after the id. */
function calibrationValues(c: NewCalibration) {
  const points = c.kind === 'electrode' ? c.points : null
  return [
    c.kind,
    c.probe,
    c.channel,
    c.at,
    points?.[0].ph ?? null,
    points?.[0].emfMv ?? null,
    points?.[1].ph ?? null,
    points?.[1].emfMv ?? null,
    points?.[2]?.ph ?? null,
    points?.[2]?.emfMv ?? null,
    c.kind === 'electrode' ? (c.bufferSet ?? null) : null,
    c.kind === 'electrode' ? c.temperatureC : null,
    c.kind === 'moisture' ? c.dryRaw : null,
    c.kind === 'moisture' ? c.wetRaw : null,
    JSON.stringify(c.kind === 'moisture' ? (c.soilPoints ?? []) : []),
    c.note,
  ] as const
}

/** Probes, what they say of their channels, where they sat, and how they were calibrated. */
export function gardenProbes(db: Database) {
  const allProbes = db.prepare(`SELECT ${PROBE} FROM probe ORDER BY adopted_at IS NULL, id`)
  const findProbe = db.prepare(`SELECT ${PROBE} FROM probe WHERE id = ?`)
  const countStrangers = db.prepare('SELECT count(*) AS n FROM probe WHERE adopted_at IS NULL')
  const addStranger = db.prepare(
    `INSERT INTO probe (id, name, first_seen_at, last_seen_at, state, state_at)
     VALUES (?1, ?1, ?2, ?2, 'unknown', ?2)`,
  )
  const setSeen = db.prepare('UPDATE probe SET last_seen_at = max(last_seen_at, ?) WHERE id = ?')
  const setSeenAnew = db.prepare('UPDATE probe SET last_seen_at = ? WHERE id = ?')
  const setState = db.prepare('UPDATE probe SET state = ?, state_at = ? WHERE id = ?')
  const setExpected = db.prepare('UPDATE probe SET expected_at = ? WHERE id = ?')
  const setFirmware = db.prepare('UPDATE probe SET firmware = ? WHERE id = ?')
  const setHardware = db.prepare('UPDATE probe SET hardware = ? WHERE id = ?')
  const setInterval = db.prepare('UPDATE probe SET interval_s = ? WHERE id = ?')
  const adopt = db.prepare(
    `INSERT INTO probe (id, name, adopted_at, first_seen_at, last_seen_at, state, state_at)
     VALUES (?1, ?2, ?3, ?3, ?3, 'unknown', ?3)
     ON CONFLICT DO UPDATE SET name = excluded.name, adopted_at = coalesce(adopted_at, ?3)`,
  )
  const allChannels = db.prepare(
    `SELECT ${CHANNEL} FROM channel WHERE ?1 IS NULL OR probe = ?1 ORDER BY probe, name`,
  )
  // What a probe said of a channel is not undone by a guess from the channel's name.
  const setChannel = db.prepare(
    `INSERT INTO channel VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
     ON CONFLICT DO UPDATE SET senses = excluded.senses, unit = excluded.unit, low = excluded.low,
       high = excluded.high, resolution = excluded.resolution, depth_m = excluded.depth_m,
       derived_from = excluded.derived_from, described = excluded.described
     WHERE excluded.described >= channel.described`,
  )
  const allPlacements = db.prepare(
    `SELECT ${PLACEMENT} FROM placement
     WHERE ?1 IS NULL OR spot IN (SELECT id FROM spot WHERE bed = ?1) ORDER BY since, id`,
  )
  const placementsOf = db.prepare(
    `SELECT ${PLACEMENT} FROM placement WHERE probe = ? ORDER BY since, id`,
  )
  const findStay = db.prepare(
    `SELECT id FROM placement WHERE probe = ?1 AND spot = ?2 AND since <= ?3
     AND (until IS NULL OR until >= ?3) ORDER BY since LIMIT 1`,
  )
  const dropPlacements = db.prepare(
    'DELETE FROM placement WHERE probe = ? AND since >= ? AND id IS NOT ?',
  )
  const endPlacement = db.prepare(
    'UPDATE placement SET until = ?2 WHERE probe = ?1 AND (until IS NULL OR until > ?2)',
  )
  const openPlacement = db.prepare('UPDATE placement SET until = NULL WHERE id = ?')
  const addPlacement = db.prepare('INSERT INTO placement (probe, spot, since) VALUES (?, ?, ?)')
  const allCalibrations = db.prepare(
    'SELECT * FROM calibration WHERE ?1 IS NULL OR probe = ?1 ORDER BY at, id',
  )
  const addCalibration = db.prepare(
    `INSERT INTO calibration (kind, probe, channel, at, ph_1, emf_mv_1, ph_2, emf_mv_2, ph_3, emf_mv_3,
       buffer_set, temperature_c, dry_raw, wet_raw, soil_points, note)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING *`,
  )
  const changeCalibration = db.prepare(
    `UPDATE calibration SET kind = ?, probe = ?, channel = ?, at = ?, ph_1 = ?, emf_mv_1 = ?, ph_2 = ?,
     emf_mv_2 = ?, ph_3 = ?, emf_mv_3 = ?, buffer_set = ?, temperature_c = ?, dry_raw = ?, wet_raw = ?,
     soil_points = ?, note = ? WHERE id = ? RETURNING *`,
  )
  const dropCalibration = db.prepare('DELETE FROM calibration WHERE id = ?')

  const probe = (id: string): Probe | null => rowOf<Probe>(findProbe, id)

  const hearOne = (news: ProbeNews): void => {
    const { id, at } = news
    if (news.clockSetBack === true) setSeenAnew.run(at, id)
    else setSeen.run(at, id)
    if (news.state !== undefined) setState.run(news.state, at, id)
    if (news.expectedAt !== undefined) setExpected.run(news.expectedAt, id)
    if (news.firmware !== undefined) setFirmware.run(news.firmware, id)
    if (news.hardware !== undefined) setHardware.run(news.hardware, id)
    if (news.intervalS !== undefined) setInterval.run(news.intervalS, id)
    for (const c of news.channels ?? []) {
      setChannel.run(
        id,
        c.name,
        c.senses,
        c.unit,
        c.low,
        c.high,
        c.resolution,
        c.depthM,
        c.from,
        c.described ? 1 : 0,
      )
    }
  }

  return {
    probes: (): Probe[] => rowsOf<Probe>(allProbes),
    probe,
    hear: (news: readonly ProbeNews[], maxStrangers: number): { refused: string[] } =>
      transact(db, () => {
        const refused = new Set<string>()
        let strangers = rowOf<{ n: number }>(countStrangers)?.n ?? 0
        for (const one of news) {
          if (probe(one.id) === null) {
            if (strangers >= maxStrangers) {
              refused.add(one.id)
              continue
            }
            addStranger.run(one.id, one.at)
            strangers++
          }
          hearOne(one)
        }
        return { refused: [...refused] }
      }),
    adoptProbe: (id: string, name: string, at: number): Probe =>
      transact(db, () => {
        adopt.run(id, name, at)
        return probe(id) as Probe
      }),
    channels: (of?: string): Channel[] =>
      rowsOf<Omit<Channel, 'described'> & { described: number }>(allChannels, of ?? null).map(
        (row) => ({ ...row, described: row.described === 1 }),
      ),
    placements: (bedId?: number): Placement[] => rowsOf<Placement>(allPlacements, bedId ?? null),
    placeProbe: (id: string, spotId: number | null, from: number): Placement[] =>
      transact(db, () => {
        const stay = rowOf<{ id: number }>(findStay, id, spotId, from)
        dropPlacements.run(id, from, stay?.id ?? null)
        if (stay !== null) {
          // It stays where it is, or was until this very moment: one placement, not two that touch.
          openPlacement.run(stay.id)
        } else {
          endPlacement.run(id, from)
          if (spotId !== null) addPlacement.run(id, spotId, from)
        }
        return rowsOf<Placement>(placementsOf, id)
      }),
    calibrations: (of?: string): Calibration[] =>
      rowsOf<CalibrationRow>(allCalibrations, of ?? null).map(toCalibration),
    addCalibration: (c: NewCalibration): Calibration =>
      toCalibration(
        rowOf<CalibrationRow>(addCalibration, ...calibrationValues(c)) as CalibrationRow,
      ),
    changeCalibration: (id: number, c: NewCalibration): Calibration | null => {
      const row = rowOf<CalibrationRow>(changeCalibration, ...calibrationValues(c), id)
      return row === null ? null : toCalibration(row)
    },
    removeCalibration: (id: number): boolean => dropCalibration.run(id).changes === 1,
  }
}
