import fc from 'fast-check'
import { expect, test } from 'vitest'
import { mayRead, maySubscribe, refuseConnect, refusePublish } from '#hub/ingest/access.ts'

/*
 * The rules of the built-in broker against what MQTT says a filter covers (MQTT 3.1.1, 4.7), worked out here by itself.
 */

const LEVEL = fc.oneof(
  {
    weight: 6,
    arbitrary: fc.constantFrom('lm1', 'bed3a', 'bed3b', 'hub', 'up', 'dn', 'state', 'r'),
  },
  {
    weight: 2,
    arbitrary: fc.constantFrom('', '$SYS', '$share', 'all', 'bed3aa', 'BED3A', ' bed3a'),
  },
  {
    weight: 1,
    arbitrary: fc.string({ maxLength: 4, unit: 'binary' }).map((s) => s.replaceAll(/[/+#\0]/g, '')),
  },
)
const TOPIC = fc.array(LEVEL, { minLength: 1, maxLength: 5 }).map((levels) => levels.join('/'))
const FILTER = fc
  .tuple(
    fc.array(
      fc.oneof({ weight: 3, arbitrary: LEVEL }, { weight: 2, arbitrary: fc.constant('+') }),
      {
        maxLength: 4,
      },
    ),
    fc.boolean(),
  )
  .map(([levels, all]) => (all ? [...levels, '#'] : levels).join('/'))
  .filter((filter) => filter !== '')

/** Whether a filter covers a topic, level by level. */
function covers(filter: string, topic: string): boolean {
  if (topic.startsWith('$') && /^[+#]/.test(filter)) return false
  const wanted = filter.split('/')
  const there = topic.split('/')
  for (const [i, level] of wanted.entries()) {
    if (level === '#') return there.length >= i
    if (there[i] === undefined || (level !== '+' && level !== there[i])) return false
  }
  return wanted.length === there.length
}
/** What a probe may be handed: its own orders and the hub's state. */
const isForA = (topic: string): boolean =>
  /^lm1\/bed3a\/dn\/./.test(topic) ||
  topic === 'lm1/bed3a/dn/' ||
  topic === 'lm1/hub/state' ||
  topic === 'lm1/bed3a/dn'

test('whatever a probe is let subscribe to covers nothing that is not its own', () => {
  fc.assert(
    fc.property(FILTER, TOPIC, (filter, topic) => {
      if (maySubscribe(filter, 'bed3a') && covers(filter, topic)) expect(isForA(topic)).toBe(true)
    }),
    { numRuns: 20_000 },
  )
})

test('whatever subscription a message comes by, a probe is handed what is its own alone', () => {
  fc.assert(
    fc.property(TOPIC, (topic) => {
      if (mayRead(topic, 'bed3a')) expect(isForA(topic)).toBe(true)
    }),
    { numRuns: 10_000 },
  )
})

test('a probe writes below its own part alone, and nobody in its place', () => {
  fc.assert(
    fc.property(TOPIC, (topic) => {
      const own = topic.startsWith('lm1/bed3a/up')
      if (refusePublish(topic, 'bed3a') === null) expect(own).toBe(true)
      if (refusePublish(topic, null, (probe) => probe === 'bed3a') === null)
        expect(topic.startsWith('lm1/bed3a/')).toBe(false)
    }),
    { numRuns: 10_000 },
  )
})

test('no user name is let in that could stand for more than one probe', () => {
  fc.assert(
    fc.property(fc.oneof(LEVEL, FILTER, fc.string()), (user) => {
      if (refuseConnect(user, user) === null) expect(user).toMatch(/^[a-z][a-z0-9]{2,22}$/)
    }),
    { numRuns: 10_000 },
  )
  for (const user of ['hub', 'test', 'pair', '+', '#', '', 'bed3a\n', 'bed3a\0'])
    expect(refuseConnect(user, user), user).not.toBeNull()
})
