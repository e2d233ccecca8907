import { rowOf, rowsOf, transact } from './open-database.ts'
import type { Alarm, AlarmChange, AlarmEvidence, AlarmStep, AlarmTexts } from '../../model/alarm.ts'
import type { Database } from './open-database.ts'

const ALARM = `id, bed AS bedId, kind, subject, priority, state, raised_at AS raisedAt,
  acknowledged_at AS acknowledgedAt, returned_at AS returnedAt, over_since AS overSince,
  shelved_until AS shelvedUntil, changed_at AS changedAt, evidence, sentence, advice, texts`

type AlarmRow = Omit<Alarm, 'evidence' | 'texts'> & {
  readonly evidence: string
  readonly texts: string | null
}

const toAlarm = ({ texts, ...row }: AlarmRow): Alarm => ({
  ...row,
  ...(texts !== null && { texts: JSON.parse(texts) as AlarmTexts }),
  // Episodes of older versions know no cause.
  evidence: withCause(JSON.parse(row.evidence) as AlarmEvidence),
})

const withCause = (evidence: AlarmEvidence): AlarmEvidence => ({
  ...evidence,
  cause: (evidence as Partial<AlarmEvidence>).cause ?? null,
  causeSettled: (evidence as Partial<AlarmEvidence>).causeSettled ?? null,
})

const CHANGE = 'id, alarm AS alarmId, at, what, by_name AS by, note, snapshot'

type ChangeRow = Omit<AlarmChange, 'alarm'> & { readonly snapshot: string }

const toChange = ({ snapshot, ...row }: ChangeRow): AlarmChange => ({
  ...row,
  alarm: JSON.parse(snapshot) as Alarm,
})

const valuesOf = (alarm: Alarm) =>
  [
    alarm.bedId,
    alarm.kind,
    alarm.subject,
    alarm.priority,
    alarm.state,
    alarm.raisedAt,
    alarm.acknowledgedAt,
    alarm.returnedAt,
    alarm.overSince,
    alarm.shelvedUntil,
    alarm.changedAt,
    JSON.stringify(alarm.evidence),
    alarm.sentence,
    alarm.advice,
    alarm.texts === undefined ? null : JSON.stringify(alarm.texts),
  ] as const

/** Episodes of alarms, and everything that happened to each. */
export function gardenAlarms(db: Database) {
  const open = db.prepare(
    `SELECT ${ALARM} FROM alarm WHERE state <> 'normal' ORDER BY raised_at DESC, id DESC`,
  )
  const newest = db.prepare(
    `SELECT ${ALARM} FROM alarm ORDER BY raised_at DESC, id DESC LIMIT CAST(? AS INTEGER)`,
  )
  const find = db.prepare(`SELECT ${ALARM} FROM alarm WHERE id = ?`)
  const add = db.prepare(
    `INSERT INTO alarm (bed, kind, subject, priority, state, raised_at, acknowledged_at, returned_at,
       over_since, shelved_until, changed_at, evidence, sentence, advice, texts)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING ${ALARM}`,
  )
  const change = db.prepare(
    `UPDATE alarm SET bed = ?, kind = ?, subject = ?, priority = ?, state = ?, raised_at = ?,
       acknowledged_at = ?, returned_at = ?, over_since = ?, shelved_until = ?, changed_at = ?,
       evidence = ?, sentence = ?, advice = ?, texts = ?
     WHERE id = ? RETURNING ${ALARM}`,
  )
  const note = db.prepare(
    `INSERT INTO alarm_change (alarm, at, what, by_name, note, snapshot) VALUES (?, ?, ?, ?, ?, ?)`,
  )
  const changesAfter = db.prepare(
    `SELECT ${CHANGE} FROM alarm_change WHERE id > ? ORDER BY id LIMIT CAST(? AS INTEGER)`,
  )
  const changesOf = db.prepare(
    `SELECT ${CHANGE} FROM alarm_change WHERE alarm = ? AND id > ? ORDER BY id
     LIMIT CAST(? AS INTEGER)`,
  )

  const save = ({ alarm, at, what, by, note: text }: AlarmStep): Alarm => {
    const values = valuesOf(alarm)
    const row =
      alarm.id === 0
        ? rowOf<AlarmRow>(add, ...values)
        : rowOf<AlarmRow>(change, ...values, alarm.id)
    if (row === null) throw new Error(`alarm ${alarm.id} was never stored`)
    const stored = toAlarm(row)
    if (what !== null) note.run(stored.id, at, what, by, text, JSON.stringify(stored))
    return stored
  }

  return {
    openAlarms: (): Alarm[] => rowsOf<AlarmRow>(open).map(toAlarm),
    alarms: (limit: number): Alarm[] => rowsOf<AlarmRow>(newest, limit).map(toAlarm),
    alarm: (id: number): Alarm | null => {
      const row = rowOf<AlarmRow>(find, id)
      return row === null ? null : toAlarm(row)
    },
    saveAlarms: (steps: readonly AlarmStep[]): Alarm[] => transact(db, () => steps.map(save)),
    alarmChanges: (options: { after?: number; alarmId?: number; limit: number }): AlarmChange[] => {
      const { after = 0, alarmId, limit } = options
      return (
        alarmId === undefined
          ? rowsOf<ChangeRow>(changesAfter, after, limit)
          : rowsOf<ChangeRow>(changesOf, alarmId, after, limit)
      ).map(toChange)
    },
  }
}
