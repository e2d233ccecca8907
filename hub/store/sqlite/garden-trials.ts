import type { NewTrial, Trial } from '../../model/trial.ts'
import { rowOf, rowsOf } from './open-database.ts'
import type { Database } from './open-database.ts'

const TRIAL = `id, claim, direction, material, least_effect AS leastEffect, treated, untreated,
  starts_at AS startsAt, days, created_at AS createdAt, given_up_at AS givenUpAt`

type TrialRow = Omit<Trial, 'treated' | 'untreated'> & {
  readonly treated: string
  readonly untreated: string
}

const toTrial = (row: TrialRow): Trial => ({
  ...row,
  treated: JSON.parse(row.treated) as number[],
  untreated: JSON.parse(row.untreated) as number[],
})

/** Claims put to the test. */
export function gardenTrials(db: Database) {
  const all = db.prepare(`SELECT ${TRIAL} FROM trial ORDER BY starts_at DESC, id DESC`)
  const find = db.prepare(`SELECT ${TRIAL} FROM trial WHERE id = ?`)
  const add = db.prepare(
    `INSERT INTO trial (claim, direction, material, least_effect, treated, untreated, starts_at, days,
       created_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING ${TRIAL}`,
  )
  const giveUp = db.prepare(
    `UPDATE trial SET given_up_at = ? WHERE id = ? AND given_up_at IS NULL RETURNING ${TRIAL}`,
  )
  const drop = db.prepare('DELETE FROM trial WHERE id = ?')
  const one = (row: TrialRow | null): Trial | null => (row === null ? null : toTrial(row))

  return {
    trials: (): Trial[] => rowsOf<TrialRow>(all).map(toTrial),
    trial: (id: number): Trial | null => one(rowOf<TrialRow>(find, id)),
    addTrial: (trial: NewTrial, at: number): Trial =>
      toTrial(
        rowOf<TrialRow>(
          add,
          trial.claim,
          trial.direction,
          trial.material,
          trial.leastEffect,
          JSON.stringify(trial.treated),
          JSON.stringify(trial.untreated),
          trial.startsAt,
          trial.days,
          at,
        ) as TrialRow,
      ),
    giveUpTrial: (id: number, at: number): Trial | null => one(rowOf<TrialRow>(giveUp, at, id)),
    removeTrial: (id: number): boolean => drop.run(id).changes === 1,
  }
}
