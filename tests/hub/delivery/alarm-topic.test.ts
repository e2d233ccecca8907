import { expect, test } from 'vitest'
import { alarmPayload, alarmTopic } from '#hub/delivery/alarm-topic.ts'
import type { Alarm } from '#hub/model/alarm.ts'

const alarm: Alarm = {
  id: 7,
  bedId: 3,
  kind: 'harmful-shift',
  subject: '',
  state: 'unacknowledged',
  raisedAt: 1_780_000_000_000,
  acknowledgedAt: null,
  returnedAt: null,
  overSince: null,
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
