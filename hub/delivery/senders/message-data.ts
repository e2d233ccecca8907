import type { Outgoing } from './sender.ts'

const iso = (at: number | null): string | null => (at === null ? null : new Date(at).toISOString())

/** A message for programs: what webhooks and MQTT carry. Times are ISO 8601, in UTC. */
export function messageData({ items, held, test, maybeSent, letter }: Outgoing) {
  return {
    test,
    possibleRepeat: maybeSent,
    held,
    title: letter.subject,
    alarms: items.map(({ alarm, bed, reasons }) => ({
      id: alarm.id,
      kind: alarm.kind,
      state: alarm.state,
      priority: alarm.priority,
      bedId: alarm.bedId,
      bed,
      subject: alarm.subject,
      reasons: [...reasons],
      raisedAt: iso(alarm.raisedAt),
      acknowledgedAt: iso(alarm.acknowledgedAt),
      returnedAt: iso(alarm.returnedAt),
      evidence: { ...alarm.evidence, since: iso(alarm.evidence.since) },
      sentence: alarm.sentence,
      advice: alarm.advice,
    })),
    link: letter.link,
  }
}
