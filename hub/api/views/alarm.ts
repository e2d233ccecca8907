import type { Alarm, AlarmChange } from '../../model/alarm.ts'
import type { Bed } from '../../model/bed.ts'
import type { AlarmChange as ChangeView, Alarm as AlarmView } from '../schemas/alarm.ts'
import { alarmSaid } from '../../words/alarm-said.ts'
import { say } from '../../words/say.ts'

/** As it is said here and now, whichever language and units it was raised in. */
export function alarmView(kept: Alarm, bed: string | null): AlarmView {
  const alarm = alarmSaid(kept)
  return {
    id: alarm.id,
    bedId: alarm.bedId,
    bed,
    kind: alarm.kind,
    subject: alarm.subject,
    priority: alarm.priority,
    state: alarm.state,
    raisedAt: alarm.raisedAt,
    acknowledgedAt: alarm.acknowledgedAt,
    returnedAt: alarm.returnedAt,
    overSince: alarm.overSince,
    shelvedUntil: alarm.shelvedUntil,
    changedAt: alarm.changedAt,
    evidence: {
      ...alarm.evidence,
      spotsMoved: [...alarm.evidence.spotsMoved],
      spotsSteady: [...alarm.evidence.spotsSteady],
      figures: (alarm.evidence.figures ?? []).map((one) => ({ ...one })),
    },
    sentence: alarm.sentence,
    advice: alarm.advice,
  }
}

/** Alarms with the name of their bed; a bed that is gone shows as its number. */
export function alarmViews(alarms: readonly Alarm[], beds: readonly Bed[]): AlarmView[] {
  const names = new Map(beds.map((b) => [b.id, b.name]))
  return alarms.map((a) =>
    alarmView(a, a.bedId === null ? null : (names.get(a.bedId) ?? say`bed ${a.bedId}`)),
  )
}

export function changeView({ id, at, what, by, note, alarm }: AlarmChange): ChangeView {
  return {
    id,
    at: Math.round(at),
    what,
    by,
    note,
    state: alarm.state,
    shelvedUntil: alarm.shelvedUntil,
    sentence: alarmSaid(alarm).sentence,
  }
}
