import { rowOf, rowsOf, transact } from './open-database.ts'
import type { Bed, Garden, Spot } from '../../model/bed.ts'
import type { NewBed } from '../garden-store.ts'
import type { Database } from './open-database.ts'

interface BedRow extends Omit<Bed, 'crops' | 'ownBand'> {
  readonly crops: string
  readonly bandLow: number | null
  readonly bandHigh: number | null
}

const BED = `id, name, area_m2 AS areaM2, depth_m AS depthM, texture, crops, band_low AS bandLow,
  band_high AS bandHigh, rank, created_at AS createdAt, retired_at AS retiredAt`
const SPOT = 'id, bed AS bedId, name'

const toBed = ({ bandLow, bandHigh, crops, ...row }: BedRow): Bed => ({
  ...row,
  crops: JSON.parse(crops) as string[],
  ownBand: bandLow === null || bandHigh === null ? null : { low: bandLow, high: bandHigh },
})
const bedOrNull = (row: BedRow | null): Bed | null => (row === null ? null : toBed(row))

const valuesOf = (bed: NewBed) =>
  [
    bed.name,
    bed.areaM2,
    bed.depthM,
    bed.texture,
    JSON.stringify(bed.crops),
    bed.ownBand?.low ?? null,
    bed.ownBand?.high ?? null,
  ] as const

/** Garden, beds and spots. `zone`: IANA zone of a garden that is new. */
export function gardenBeds(db: Database, zone: string) {
  db.prepare(`INSERT OR IGNORE INTO garden VALUES (1, 'My garden', ?, 'metric', 'en')`).run(zone)

  const findGarden = db.prepare('SELECT name, zone, units, language FROM garden')
  const setGarden = db.prepare('UPDATE garden SET name = ?, zone = ?, units = ?, language = ?')
  const allBeds = db.prepare(
    `SELECT ${BED} FROM bed WHERE retired_at IS NULL OR ?
     ORDER BY retired_at IS NOT NULL, rank, name`,
  )
  const findBed = db.prepare(`SELECT ${BED} FROM bed WHERE id = ?`)
  const addBed = db.prepare(
    `INSERT INTO bed (name, area_m2, depth_m, texture, crops, band_low, band_high, rank, created_at)
     VALUES (?, ?, ?, ?, ?, ?, ?, (SELECT coalesce(max(rank), 0) + 1 FROM bed), ?)
     RETURNING ${BED}`,
  )
  const setBed = db.prepare(
    `UPDATE bed SET name = ?, area_m2 = ?, depth_m = ?, texture = ?, crops = ?, band_low = ?,
     band_high = ? WHERE id = ? RETURNING ${BED}`,
  )
  const retire = db.prepare('UPDATE bed SET retired_at = ? WHERE id = ? AND retired_at IS NULL')
  const dropLater = db.prepare(
    'DELETE FROM placement WHERE spot IN (SELECT id FROM spot WHERE bed = ?) AND since >= ?',
  )
  const endPlacements = db.prepare(
    `UPDATE placement SET until = ?2 WHERE spot IN (SELECT id FROM spot WHERE bed = ?1)
     AND (until IS NULL OR until > ?2)`,
  )
  const endPlans = db.prepare(
    `UPDATE plan SET closed_at = ?2, ending = 'given up' WHERE bed = ?1 AND closed_at IS NULL`,
  )
  const allSpots = db.prepare(`SELECT ${SPOT} FROM spot WHERE ?1 IS NULL OR bed = ?1 ORDER BY id`)
  const addSpot = db.prepare(`INSERT INTO spot (bed, name) VALUES (?, ?) RETURNING ${SPOT}`)
  const setSpot = db.prepare(`UPDATE spot SET name = ? WHERE id = ? RETURNING ${SPOT}`)
  const findSpot = db.prepare('SELECT id FROM spot WHERE id = ?')
  const findUse = db.prepare('SELECT 1 AS used FROM placement WHERE spot = ? LIMIT 1')
  const dropSpot = db.prepare('DELETE FROM spot WHERE id = ?')

  const garden = (): Garden => rowOf<Garden>(findGarden) as Garden
  const bed = (id: number): Bed | null => bedOrNull(rowOf<BedRow>(findBed, id))

  return {
    garden,
    setGarden: (next: Garden): Garden => {
      setGarden.run(next.name, next.zone, next.units, next.language)
      return garden()
    },
    beds: (options?: { retired?: boolean }): Bed[] =>
      rowsOf<BedRow>(allBeds, options?.retired === true ? 1 : 0).map(toBed),
    bed,
    addBed: (next: NewBed, at: number): Bed =>
      toBed(rowOf<BedRow>(addBed, ...valuesOf(next), at) as BedRow),
    changeBed: (id: number, next: NewBed): Bed | null =>
      bedOrNull(rowOf<BedRow>(setBed, ...valuesOf(next), id)),
    retireBed: (id: number, at: number): Bed | null =>
      transact(db, () => {
        if (retire.run(at, id).changes === 1) {
          dropLater.run(id, at)
          endPlacements.run(id, at)
          endPlans.run(id, at)
        }
        return bed(id)
      }),
    spots: (bedId?: number): Spot[] => rowsOf<Spot>(allSpots, bedId ?? null),
    addSpot: (bedId: number, name: string): Spot | null =>
      transact(db, () => (bed(bedId) === null ? null : rowOf<Spot>(addSpot, bedId, name))),
    renameSpot: (id: number, name: string): Spot | null => rowOf<Spot>(setSpot, name, id),
    removeSpot: (id: number): 'removed' | 'in use' | null =>
      transact(db, () => {
        if (rowOf(findSpot, id) === null) return null
        if (rowOf(findUse, id) !== null) return 'in use'
        dropSpot.run(id)
        return 'removed'
      }),
  }
}
