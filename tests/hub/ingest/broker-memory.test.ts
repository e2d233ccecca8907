import { Readable } from 'node:stream'
import { expect, test } from 'vitest'
import {
  boundBrokerMemory,
  type BrokerMemory,
  type MemoryLimits,
} from '#hub/ingest/broker-memory.ts'

/** Memory as the broker library keeps it, without its bookkeeping. */
function plainMemory() {
  const retained = new Map<string, unknown>()
  const sessions = new Set<string>()
  const queues = new Map<string, unknown[]>()
  const halves = new Map<string, Set<number>>()
  const memory: BrokerMemory = {
    storeRetained: async (packet) => void retained.set(packet.topic, packet.payload),
    addSubscriptions: async (client) => void sessions.add(client.id),
    cleanSubscriptions: async (client) => sessions.delete(client.id),
    outgoingEnqueueCombi: async (subscribers, packet) => {
      for (const { clientId } of subscribers) {
        queues.set(clientId, [...(queues.get(clientId) ?? []), packet])
      }
    },
    outgoingStream: ({ id }) => Readable.from(queues.get(id) ?? []),
    incomingStorePacket: async ({ id }, { messageId = 0 }) =>
      void halves.set(id, (halves.get(id) ?? new Set()).add(messageId)),
    incomingDelPacket: async ({ id }, { messageId = 0 }) => void halves.get(id)?.delete(messageId),
    cleanIncoming: async ({ id }) => void halves.delete(id),
  }
  return { memory, retained, sessions, queues }
}

function bounded(limits: MemoryLimits) {
  const plain = plainMemory()
  const told: string[] = []
  boundBrokerMemory(plain.memory, (sentence) => told.push(sentence), limits)
  return { ...plain, told }
}
const packet = (topic: string, payload: string, messageId = 1) => ({
  topic,
  payload: Buffer.from(payload),
  messageId,
})

test('descriptions under ever new names stop being kept, the hub’s own messages do not', async () => {
  const { memory, retained, told } = bounded({ retainedBytes: 5400 })
  for (let i = 0; i < 50; i++) await memory.storeRetained(packet(`lm1/p${i}/up/state`, '{"s":1}'))
  expect(retained.size).toBe(10)
  // The same again is no more of it.
  for (let i = 0; i < 50; i++) await memory.storeRetained(packet('lm1/p0/up/state', '{"s":2}'))
  expect(retained.get('lm1/p0/up/state')).toEqual(Buffer.from('{"s":2}'))
  await memory.storeRetained(packet('lm1/p99/dn/ack', '{"b":1,"n":1}'))
  expect(retained.has('lm1/p99/dn/ack')).toBe(true)
  // What is taken back leaves room.
  await memory.storeRetained(packet('lm1/p1/up/state', ''))
  await memory.storeRetained(packet('lm1/late/up/state', '{"s":1}'))
  expect(retained.has('lm1/late/up/state')).toBe(true)
  expect(told).toHaveLength(1)
})

test('sessions that never come back are counted, those that end are not', async () => {
  const { memory, sessions, told } = bounded({ sessions: 3 })
  for (const id of ['a', 'b', 'c', 'd', 'a']) await memory.addSubscriptions({ id }, [])
  expect([...sessions]).toEqual(['a', 'b', 'c'])
  await memory.cleanSubscriptions({ id: 'b' })
  await memory.addSubscriptions({ id: 'd' }, [])
  expect([...sessions]).toEqual(['a', 'c', 'd'])
  expect(told).toHaveLength(1)
})

test('messages wait for a session up to a number, and on when it has fetched some', async () => {
  const { memory, queues, told } = bounded({ waiting: 5, waitingInAll: 8 })
  const send = (to: string) => memory.outgoingEnqueueCombi([{ clientId: to }], packet('t', 'x'))
  for (let i = 0; i < 20; i++) await send('gone')
  expect(queues.get('gone')).toHaveLength(5)
  for (let i = 0; i < 20; i++) await send('other')
  expect(queues.get('other')).toHaveLength(3)
  queues.set('gone', [])
  for (let i = 0; i < 400; i++) await send('gone')
  expect(queues.get('gone')).toHaveLength(5)
  expect(told.length).toBeGreaterThan(0)
})

test('messages at QoS 2 that are never released end with a refusal', async () => {
  const { memory, told } = bounded({ halfSent: 4 })
  const store = (id: string, messageId: number) =>
    memory.incomingStorePacket({ id }, packet('t', 'x', messageId))
  for (let i = 1; i <= 4; i++) await store('a', i)
  await store('a', 4)
  await expect(store('b', 1)).rejects.toThrow(/QoS 2/)
  await memory.incomingDelPacket({ id: 'a' }, packet('t', 'x', 1))
  await store('b', 1)
  await memory.cleanIncoming({ id: 'a' })
  for (let i = 2; i <= 4; i++) await store('b', i)
  await expect(store('b', 5)).rejects.toThrow(/QoS 2/)
  expect(told).toHaveLength(1)
})
