import type { Alarm, AlarmChange, AlarmChangeKind } from '#hub/model/alarm.ts'
import type { NewRoute, Route } from '#hub/model/route.ts'

/** A harmful shift in a bed of an invented garden; times epoch ms. */
export function anAlarm(change: Partial<Alarm> = {}): Alarm {
  const raisedAt = change.raisedAt ?? 1_780_000_000_000
  return {
    id: 7,
    bedId: 3,
    kind: 'harmful-shift',
    subject: '',
    priority: 'high',
    state: 'unacknowledged',
    raisedAt,
    acknowledgedAt: null,
    returnedAt: null,
    overSince: null,
    shelvedUntil: null,
    changedAt: raisedAt,
    evidence: {
      from: 6.4,
      to: 7.8,
      change: 1.4,
      changeHalfWidth: 0.2,
      since: raisedAt - 3_600_000,
      spotsMoved: ['north', 'south'],
      spotsSteady: [],
      sureness: 0.97,
      journalId: null,
      cause: null,
      causeSettled: null,
    },
    sentence: 'Long bed: the pH rose by 1.4 ± 0.2.',
    advice: 'Measure by hand first.',
    ...change,
  }
}

export const aChange = (
  id: number,
  at: number,
  what: AlarmChangeKind,
  alarm: Alarm,
): AlarmChange => ({ id, alarmId: alarm.id, at, what, by: null, note: '', alarm })

/** A route that tells everything at once, without quiet hours, repeats or windows. */
export const aNewRoute = (change: Partial<NewRoute> = {}): NewRoute => ({
  name: 'Kitchen',
  on: true,
  target: { way: 'mqtt', retain: false },
  linkBase: 'http://hub.example:8090',
  kinds: null,
  beds: null,
  leastPriority: 'low',
  tells: 'raised',
  gatherMin: 0,
  digestAt: null,
  atOnceFrom: 'low',
  quiet: null,
  repeatMin: null,
  escalate: null,
  mostPerHour: 60,
  ...change,
})

export const aRoute = (change: Partial<Route> = {}): Route => ({
  ...aNewRoute(),
  id: 1,
  createdAt: 0,
  pausedUntil: null,
  hasSecret: false,
  ...change,
})
