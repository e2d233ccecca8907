import type { BedSoil, NewSoilTest, SoilTest, SoilTestBody } from '../../model/soil.ts'
import { rowOf, rowsOf } from './open-database.ts'
import type { Database } from './open-database.ts'

interface SoilRow extends Omit<BedSoil, 'hardWater'> {
  readonly hardWater: number | null
}
interface TestRow {
  readonly id: number
  readonly bedId: number
  readonly at: number
  readonly text: string
  readonly body: string
}

const TEST = 'id, bed AS bedId, at, text, body'

const toSoil = ({ hardWater, ...row }: SoilRow): BedSoil => ({
  ...row,
  hardWater: hardWater === null ? null : hardWater === 1,
})
const toTest = ({ body, ...row }: TestRow): SoilTest => ({
  ...row,
  ...(JSON.parse(body) as SoilTestBody),
})
const flag = (value: boolean | null): number | null => (value === null ? null : Number(value))

/** What is known of the soil of each bed, and the tests it rests on. */
export function gardenSoil(db: Database) {
  // A bed of which nothing was said has a row of nulls.
  const find = db.prepare(
    `SELECT bed.id AS bedId, bulk_density AS bulkDensity, planting, hard_water AS hardWater
     FROM bed LEFT JOIN bed_soil ON bed_soil.bed = bed.id WHERE bed.id = ?`,
  )
  const set = db.prepare(
    `INSERT INTO bed_soil (bed, bulk_density, planting, hard_water)
     SELECT id, ?2, ?3, ?4 FROM bed WHERE id = ?1
     ON CONFLICT (bed) DO UPDATE SET bulk_density = ?2, planting = ?3, hard_water = ?4`,
  )
  const tests = db.prepare(
    `SELECT ${TEST} FROM soil_test WHERE ?1 IS NULL OR bed = ?1 ORDER BY at, id`,
  )
  const add = db.prepare(
    `INSERT INTO soil_test (bed, at, text, body) VALUES (?, ?, ?, ?) RETURNING ${TEST}`,
  )
  const drop = db.prepare('DELETE FROM soil_test WHERE id = ?')
  const bedSoil = (bedId: number): BedSoil | null => {
    const row = rowOf<SoilRow>(find, bedId)
    return row === null ? null : toSoil(row)
  }

  return {
    bedSoil,
    setBedSoil: ({ bedId, bulkDensity, planting, hardWater }: BedSoil): BedSoil | null => {
      set.run(bedId, bulkDensity, planting, flag(hardWater))
      return bedSoil(bedId)
    },
    soilTests: (bedId?: number): SoilTest[] => rowsOf<TestRow>(tests, bedId ?? null).map(toTest),
    addSoilTest: ({ bedId, at, text, ...body }: NewSoilTest): SoilTest =>
      toTest(rowOf<TestRow>(add, bedId, at, text, JSON.stringify(body)) as TestRow),
    removeSoilTest: (id: number): boolean => drop.run(id).changes === 1,
  }
}
