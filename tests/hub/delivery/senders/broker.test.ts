import { expect, test } from 'vitest'
import { brokerPayload, createBrokerSender } from '#hub/delivery/senders/broker.ts'
import type { Outgoing } from '#hub/delivery/senders/sender.ts'
import { alarmLetter } from '#hub/delivery/words/letter.ts'
import type { MessageItem } from '#hub/model/route.ts'
import { anAlarm, aRoute } from '../../../support/alarm-fixture.ts'

function outgoing(count: number): Outgoing {
  const items = Array.from({ length: count }, (_, id): MessageItem => {
    const alarm = anAlarm({ id, bedId: id, sentence: 'ü'.repeat(120), advice: 'x'.repeat(600) })
    return { alarm, bed: `Bed ${id}`, reasons: ['raised'], since: 0 }
  })
  const context = { garden: 'Low field', zone: 'Europe/Lisbon', linkBase: null }
  const letter = alarmLetter({ items, held: 'flood' }, context)
  return {
    ...{ uid: 'a-uid', madeAt: 0, held: 'flood', items, test: false, maybeSent: true },
    ...{ letter, note: null },
  }
}
interface Payload {
  readonly id: string
  readonly possibleRepeat: boolean
  readonly alarms: readonly { readonly id: number; readonly advice?: string }[]
  readonly more: number
}

test.each([1, 3, 9, 200])('a message about %i alarms fits in a packet of 4096 bytes', (count) => {
  const text = brokerPayload(outgoing(count))
  expect(Buffer.byteLength(text)).toBeLessThanOrEqual(3900)
  const { id, possibleRepeat, alarms, more } = JSON.parse(text) as Payload
  expect({ id, possibleRepeat }).toEqual({ id: 'a-uid', possibleRepeat: true })
  expect(alarms.length + more).toBe(count)
  expect(alarms.length).toBeGreaterThan(0)
  if (count === 1) expect(alarms[0]!.advice).toHaveLength(600)
})

test('what the broker could not be given is a refusal; what it did not acknowledge is open', async () => {
  const route = aRoute({ id: 4 })
  const sent: string[] = []
  const publish = async (topic: string): Promise<void> => void sent.push(topic)
  const away = createBrokerSender(publish, () => 'the broker is not up yet')
  expect(await away(route, null, outgoing(1))).toEqual({
    what: 'refused',
    answer: 'the broker is not up yet',
  })
  const there = createBrokerSender(publish, () => null)
  expect((await there(route, null, outgoing(1))).what).toBe('sent')
  expect(sent).toEqual(['lm1/hub/messages/4'])
  const broken = createBrokerSender(
    async () => Promise.reject(new Error('connection closed')),
    () => null,
  )
  expect(await broken(route, null, outgoing(1))).toEqual({
    what: 'unsure',
    answer: 'connection closed',
  })
})
