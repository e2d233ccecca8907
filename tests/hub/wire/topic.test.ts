import { expect, test } from 'vitest'
import { formatTopic, parseTopic } from '#hub/wire/topic.ts'
import type { Topic } from '#hub/wire/topic.ts'

const TOPICS: readonly (readonly [string, Topic])[] = [
  ['lm1/bed3a/up/r', { to: 'hub', probe: 'bed3a', leaf: 'r' }],
  ['lm1/bed3a/up/b', { to: 'hub', probe: 'bed3a', leaf: 'b' }],
  ['lm1/bed3a/up/state', { to: 'hub', probe: 'bed3a', leaf: 'state' }],
  ['lm1/bed3a/up/birth', { to: 'hub', probe: 'bed3a', leaf: 'birth' }],
  ['lm1/bed3a/up/ch/phmv', { to: 'hub', probe: 'bed3a', leaf: 'ch', channel: 'phmv' }],
  ['lm1/bed3a/up/v/m1', { to: 'hub', probe: 'bed3a', leaf: 'v', channel: 'm1' }],
  ['lm1/bed3a/up/res', { to: 'hub', probe: 'bed3a', leaf: 'res' }],
  ['lm1/bed3a/up/s', { to: 'hub', probe: 'bed3a', leaf: 's' }],
  ['lm1/bed3a/dn/ack', { to: 'probe', probe: 'bed3a', leaf: 'ack' }],
  ['lm1/bed3a/dn/time', { to: 'probe', probe: 'bed3a', leaf: 'time' }],
  ['lm1/hub/state', { to: 'all', leaf: 'state' }],
  [
    'lm1/hub/alerts/3/harmful-shift',
    { to: 'all', leaf: 'alerts', subject: '3', rule: 'harmful-shift' },
  ],
]

test.each(TOPICS)('%s is read and written alike', (text, topic) => {
  expect(parseTopic(text)).toEqual(topic)
  expect(formatTopic(topic)).toBe(text)
})

test.each([
  ['lm2/bed3a/up/r', 'LM-30'],
  ['garden/bed', 'LM-30'],
  ['/lm1/bed3a/up/r', 'LM-30'],
  ['lm1/Bed3a/up/r', 'LM-02'],
  ['lm1/3bed/up/r', 'LM-02'],
  ['lm1/ab/up/r', 'LM-02'],
  ['lm1/a23456789012345678901234/up/r', 'LM-02'],
  ['lm1/test/up/r', 'LM-02'],
  ['lm1/pair/up/r', 'LM-02'],
  ['lm1/bed3a/up', 'LM-30'],
  ['lm1/bed3a/up/reading', 'LM-30'],
  ['lm1/bed3a/up/r/x', 'LM-30'],
  ['lm1/bed3a/up/ch', 'LM-08'],
  ['lm1/bed3a/up/ch/PH', 'LM-08'],
  ['lm1/bed3a/up/v/ninechars', 'LM-08'],
  ['lm1/bed3a/dn/r', 'LM-30'],
  ['lm1/bed3a/sideways/r', 'LM-30'],
  ['lm1/hub/alerts', 'LM-30'],
  ['lm1/constructor/up/__proto__', 'LM-30'],
])('%s is refused under %s, with what was expected and what came', (text, clause) => {
  const result = parseTopic(text)
  expect(result).toMatchObject({
    problems: [{ clause, message: expect.stringMatching(/^topic: expected .*, got /) }],
  })
})
