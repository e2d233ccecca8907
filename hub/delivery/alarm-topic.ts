import type { Alarm } from '../model/alarm.ts'

/**
 * Retained topic of one alarm. A bed is `bed-3`, a part of the hub `hub-disk`: the hyphen keeps
 * them apart from probe ids, which have none.
 */
export function alarmTopic(alarm: Pick<Alarm, 'bedId' | 'kind' | 'subject'>): string {
  const about =
    alarm.subject === ''
      ? `bed-${alarm.bedId}`
      : alarm.kind === 'hub-trouble'
        ? `hub-${alarm.subject}`
        : alarm.subject
  return `lm1/hub/alerts/${about}/${alarm.kind}`
}

/** What is retained there; empty clears the topic once the alarm is normal again. */
export function alarmPayload(alarm: Alarm | null, bed: string): string {
  if (alarm === null || alarm.state === 'normal') return ''
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

/**
 * The alarm that should stand on each topic these alarms have to do with, null where none should.
 *
 * A probe has one topic wherever it sits: when it moved, an alarm of the bed it left must not clear or
 * cover the one of the bed it sits in now. The newest open episode stands.
 *
 * @param changed alarms that were raised or changed
 * @param open every alarm that is not normal
 */
export function standing(
  changed: readonly Alarm[],
  open: readonly Alarm[],
): ReadonlyMap<string, Alarm | null> {
  const byId = new Map([...open, ...changed].map((alarm) => [alarm.id, alarm]))
  const newestFirst = [...byId.values()]
    .filter(({ state }) => state !== 'normal')
    .toSorted((a, b) => b.id - a.id)
  return new Map(
    changed.map((alarm) => {
      const topic = alarmTopic(alarm)
      return [topic, newestFirst.find((other) => alarmTopic(other) === topic) ?? null]
    }),
  )
}
