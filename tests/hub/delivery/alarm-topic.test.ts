import { expect, test } from 'vitest'
import { alarmPayload, alarmTopic, standing } from '#hub/delivery/alarm-topic.ts'
import type { Alarm } from '#hub/model/alarm.ts'

const alarm: Alarm = {
  id: 7,
  bedId: 3,
  kind: 'harmful-shift',
  subject: '',
  priority: 'high',
  state: 'unacknowledged',
  raisedAt: 1_780_000_000_000,
  acknowledgedAt: null,
  returnedAt: null,
  overSince: null,
  shelvedUntil: null,
  changedAt: 1_780_000_000_000,
  evidence: {
    from: 6.4,
    to: 7.8,
    change: 1.4,
    changeHalfWidth: 0.2,
    since: 1_779_999_000_000,
    spotsMoved: ['north', 'south'],
    spotsSteady: [],
    sureness: 0.97,
    journalId: null,
    cause: null,
    causeSettled: null,
  },
  sentence: 'Long bed rose by 1.4 pH.',
  advice: 'Measure by hand.',
}

test('a bed and a probe never share a topic', () => {
  expect(alarmTopic(alarm)).toBe('lm1/hub/alerts/bed-3/harmful-shift')
  expect(alarmTopic({ ...alarm, kind: 'probe-check', subject: 'bed3' })).toBe(
    'lm1/hub/alerts/bed3/probe-check',
  )
})

test('the payload says what, where, how sure and what to do; a normal alarm clears the topic', () => {
  expect(JSON.parse(alarmPayload(alarm, 'Long bed'))).toMatchObject({
    bed: 'Long bed',
    kind: 'harmful-shift',
    state: 'unacknowledged',
    from: 6.4,
    to: 7.8,
    spots: ['north', 'south'],
    sureness: 0.97,
    sentence: 'Long bed rose by 1.4 pH.',
    advice: 'Measure by hand.',
  })
  expect(alarmPayload({ ...alarm, state: 'normal' }, 'Long bed')).toBe('')
})

test('a probe that moved to another bed keeps the topic of its open alarm there', () => {
  const check = { ...alarm, kind: 'probe-check', subject: 'soil9' } as const
  const topic = 'lm1/hub/alerts/soil9/probe-check'
  const there: Alarm = { ...check, id: 9, bedId: 4 }
  // The episode in the bed it left ends later than the one in the new bed began.
  const here: Alarm = { ...check, id: 8, state: 'normal' }
  expect(standing([here], [there])).toEqual(new Map([[topic, there]]))
  expect(standing([here], [])).toEqual(new Map([[topic, null]]))
  expect(standing([there], [{ ...check, id: 8, state: 'returned' }, there])).toEqual(
    new Map([[topic, there]]),
  )
  // What is new is also in the list of open ones, however old that list is.
  expect(standing([there], [])).toEqual(new Map([[topic, there]]))
})

test('each topic is decided by its own alarms', () => {
  const warning: Alarm = { ...alarm, id: 11, kind: 'early-warning', state: 'normal' }
  expect([...standing([alarm, warning], [alarm])]).toEqual([
    ['lm1/hub/alerts/bed-3/harmful-shift', alarm],
    ['lm1/hub/alerts/bed-3/early-warning', null],
  ])
})
