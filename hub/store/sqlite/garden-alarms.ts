import { rowOf, rowsOf, transact } from './open-database.ts'
import type { Alarm, AlarmEvidence } from '../../model/alarm.ts'
import type { Database } from './open-database.ts'

const ALARM = `id, bed AS bedId, kind, subject, state, raised_at AS raisedAt,
  acknowledged_at AS acknowledgedAt, returned_at AS returnedAt, over_since AS overSince, changed_at AS changedAt, evidence,
  sentence, advice`

type AlarmRow = Omit<Alarm, 'evidence'> & { readonly evidence: string }

const toAlarm = (row: AlarmRow): Alarm => ({
  ...row,
  // Episodes of older versions know no cause.
  evidence: withCause(JSON.parse(row.evidence) as AlarmEvidence),
})

const withCause = (evidence: AlarmEvidence): AlarmEvidence => ({
  ...evidence,
  cause: (evidence as Partial<AlarmEvidence>).cause ?? null,
  causeSettled: (evidence as Partial<AlarmEvidence>).causeSettled ?? null,
})

const valuesOf = (alarm: Alarm) =>
  [
    alarm.bedId,
    alarm.kind,
    alarm.subject,
    alarm.state,
    alarm.raisedAt,
    alarm.acknowledgedAt,
    alarm.returnedAt,
    alarm.overSince,
    alarm.changedAt,
    JSON.stringify(alarm.evidence),
    alarm.sentence,
    alarm.advice,
  ] as const

/** Episodes of alarms. */
export function gardenAlarms(db: Database) {
  const open = db.prepare(
    `SELECT ${ALARM} FROM alarm WHERE state <> 'normal' ORDER BY raised_at DESC, id DESC`,
  )
  const newest = db.prepare(
    `SELECT ${ALARM} FROM alarm ORDER BY raised_at DESC, id DESC LIMIT CAST(? AS INTEGER)`,
  )
  const find = db.prepare(`SELECT ${ALARM} FROM alarm WHERE id = ?`)
  const add = db.prepare(
    `INSERT INTO alarm (bed, kind, subject, state, raised_at, acknowledged_at, returned_at,
       over_since, changed_at, evidence, sentence, advice)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING ${ALARM}`,
  )
  const change = db.prepare(
    `UPDATE alarm SET bed = ?, kind = ?, subject = ?, state = ?, raised_at = ?, acknowledged_at = ?,
       returned_at = ?, over_since = ?, changed_at = ?, evidence = ?, sentence = ?, advice = ?
     WHERE id = ? RETURNING ${ALARM}`,
  )

  const save = (alarm: Alarm): Alarm => {
    const values = valuesOf(alarm)
    const row =
      alarm.id === 0
        ? rowOf<AlarmRow>(add, ...values)
        : rowOf<AlarmRow>(change, ...values, alarm.id)
    if (row === null) throw new Error(`alarm ${alarm.id} was never stored`)
    return toAlarm(row)
  }

  return {
    openAlarms: (): Alarm[] => rowsOf<AlarmRow>(open).map(toAlarm),
    alarms: (limit: number): Alarm[] => rowsOf<AlarmRow>(newest, limit).map(toAlarm),
    alarm: (id: number): Alarm | null => {
      const row = rowOf<AlarmRow>(find, id)
      return row === null ? null : toAlarm(row)
    },
    saveAlarms: (alarms: readonly Alarm[]): Alarm[] => transact(db, () => alarms.map(save)),
  }
}
