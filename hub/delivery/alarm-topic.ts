import type { Alarm } from '../model/alarm.ts'

/**
 * Retained topic of one alarm. A bed is `bed-3`: the hyphen keeps it apart from probe ids, which have none.
 */
export function alarmTopic(alarm: Pick<Alarm, 'bedId' | 'kind' | 'subject'>): string {
  const about = alarm.subject === '' ? `bed-${alarm.bedId}` : alarm.subject
  return `lm1/hub/alerts/${about}/${alarm.kind}`
}

/** What is retained there; empty clears the topic once the alarm is normal again. */
export function alarmPayload(alarm: Alarm, bed: string): string {
  if (alarm.state === 'normal') return ''
  const { evidence } = alarm
  return JSON.stringify({
    id: alarm.id,
    bed,
    kind: alarm.kind,
    state: alarm.state,
    raisedAt: alarm.raisedAt,
    from: evidence.from,
    to: evidence.to,
    change: evidence.change,
    since: evidence.since,
    sureness: evidence.sureness,
    spots: evidence.spotsMoved,
    sentence: alarm.sentence,
    advice: alarm.advice,
  })
}
