import type { JournalEntry, NewJournalEntry } from '../../model/journal.ts'
import type {
  NewPlan,
  Plan,
  PlanEnding,
  PlanningSettings,
  PlanStage,
  Range,
} from '../../model/plan.ts'
import { rowOf, rowsOf, transact } from './open-database.ts'
import type { Database } from './open-database.ts'

type PlanRow = Omit<Plan, 'buffering' | 'stages' | 'bases'> & {
  readonly buffering: string
  readonly bases: string | null
}
type StageRow = Omit<PlanStage, 'change' | 'retestsAt'> & {
  readonly plan: number
  readonly change: string
  readonly retests: string
}

const PLAN = `id, bed AS bedId, created_at AS createdAt, material, strength, from_ph AS fromPh,
  target_ph AS targetPh, buffering, basis, bases, closed_at AS closedAt, ending`
const STAGE = `plan, due_at AS dueAt, amount_g AS amountG, change, full_from AS fullFrom,
  full_by AS fullBy, retests, entry AS entryId`

const toStage = ({ plan: _plan, change, retests, ...row }: StageRow): PlanStage => ({
  ...row,
  change: JSON.parse(change) as Range,
  retestsAt: JSON.parse(retests) as number[],
})

/** Plans with their stages, and what was settled for all of them. `addEntry` writes in the journal. */
export function gardenPlans(db: Database, addEntry: (entry: NewJournalEntry) => JournalEntry) {
  const all = db.prepare(
    `SELECT ${PLAN} FROM plan WHERE ?1 IS NULL OR bed = ?1 ORDER BY created_at DESC, id DESC`,
  )
  const find = db.prepare(`SELECT ${PLAN} FROM plan WHERE id = ?`)
  const running = db.prepare('SELECT 1 AS it FROM plan WHERE bed = ? AND closed_at IS NULL')
  const stagesOf = db.prepare(`SELECT ${STAGE} FROM plan_stage WHERE plan = ? ORDER BY stage`)
  const add = db.prepare(
    `INSERT INTO plan (bed, created_at, material, strength, from_ph, target_ph, buffering, basis, bases)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id`,
  )
  const addStage = db.prepare(
    `INSERT INTO plan_stage (plan, stage, due_at, amount_g, change, full_from, full_by, retests,
       entry) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
  )
  const mark = db.prepare('UPDATE plan_stage SET entry = ? WHERE plan = ? AND stage = ?')
  const close = db.prepare(
    'UPDATE plan SET closed_at = ?, ending = ? WHERE id = ? AND closed_at IS NULL',
  )
  const settings = db.prepare('SELECT season_from AS a, season_to AS b, currency FROM planning')
  const setSettings = db.prepare('UPDATE planning SET season_from = ?, season_to = ?, currency = ?')
  const prices = db.prepare('SELECT material, per_kg AS perKg FROM price ORDER BY material')
  const dropPrices = db.prepare('DELETE FROM price')
  const addPrice = db.prepare('INSERT INTO price (material, per_kg) VALUES (?, ?)')

  const toPlan = ({ bases, ...row }: PlanRow): Plan => ({
    ...row,
    ...(bases !== null && { bases: JSON.parse(bases) as NonNullable<Plan['bases']> }),
    buffering: JSON.parse(row.buffering) as Range,
    stages: rowsOf<StageRow>(stagesOf, row.id).map(toStage),
  })
  const plan = (id: number): Plan | null => {
    const row = rowOf<PlanRow>(find, id)
    return row === null ? null : toPlan(row)
  }
  const planningSettings = (): PlanningSettings => {
    const { a, b, currency } = rowOf<{ a: string | null; b: string | null; currency: string }>(
      settings,
    )!
    return {
      season: a === null || b === null ? null : { from: a, to: b },
      currency,
      prices: rowsOf<{ material: string; perKg: number }>(prices),
    }
  }

  return {
    plans: (bedId?: number): Plan[] => rowsOf<PlanRow>(all, bedId ?? null).map(toPlan),
    plan,
    addPlan: (next: NewPlan, at: number): Plan | null =>
      transact(db, () => {
        if (rowOf(running, next.bedId) !== null) return null
        const { id } = rowOf<{ id: number }>(
          add,
          next.bedId,
          at,
          next.material,
          next.strength,
          next.fromPh,
          next.targetPh,
          JSON.stringify(next.buffering),
          next.basis,
          next.bases === undefined ? null : JSON.stringify(next.bases),
        )!
        for (const [i, stage] of next.stages.entries()) {
          addStage.run(
            id,
            i,
            stage.dueAt,
            stage.amountG,
            JSON.stringify(stage.change),
            stage.fullFrom,
            stage.fullBy,
            JSON.stringify(stage.retestsAt),
            stage.entryId,
          )
        }
        return plan(id)
      }),
    doStage: (
      planId: number,
      stage: number,
      entry: NewJournalEntry,
    ): { plan: Plan; entry: JournalEntry } | null =>
      transact(db, () => {
        const before = plan(planId)
        const wanted = before?.stages[stage]
        if (before === null || before.closedAt !== null || wanted?.entryId !== null) return null
        const written = addEntry(entry)
        mark.run(written.id, planId, stage)
        return { plan: plan(planId)!, entry: written }
      }),
    closePlan: (id: number, ending: PlanEnding, at: number): Plan | null =>
      close.run(at, ending, id).changes === 1 ? plan(id) : null,
    planningSettings,
    setPlanningSettings: (next: PlanningSettings): PlanningSettings =>
      transact(db, () => {
        setSettings.run(next.season?.from ?? null, next.season?.to ?? null, next.currency)
        dropPrices.run()
        for (const { material, perKg } of next.prices) addPrice.run(material, perKg)
        return planningSettings()
      }),
  }
}
