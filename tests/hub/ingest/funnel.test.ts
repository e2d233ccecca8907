import { expect, test } from 'vitest'
import { HubError } from '#hub/errors.ts'
import { createFunnel } from '#hub/ingest/funnel.ts'
import type { Arrival, Downlink } from '#hub/ingest/ingest.ts'

const arrival = (topic: string): Arrival => ({
  topic,
  payload: new Uint8Array(),
  retain: false,
  arrivedAt: 0,
  mayBeDelayed: false,
})

/** A funnel whose commits end when told to. */
function held(options: { cap?: number; highWater?: number; secondFrom?: number } = {}) {
  const batches: { topics: string[]; end: (error?: Error) => void }[] = []
  const order: string[] = []
  const funnel = createFunnel({
    ingest: (batch) =>
      new Promise<Downlink[]>((resolve, reject) => {
        batches.push({
          topics: batch.map((a) => a.topic),
          end: (error) =>
            error === undefined
              ? resolve([{ topic: 'answer', payload: '', retain: false }])
              : reject(error),
        })
      }),
    onDownlinks: (downlinks) => order.push(...downlinks.map((d) => d.topic)),
    ...options,
  })
  const push = (topic: string): void =>
    funnel.push(arrival(topic), (error) => order.push(error === null ? topic : `${topic} failed`))
  return { funnel, batches, order, push }
}
const turn = (): Promise<void> => new Promise((resolve) => setImmediate(resolve))

test('what arrives during a commit is the next batch, and answers follow the acknowledgement', async () => {
  const { batches, order, push } = held()
  push('a')
  await turn()
  push('b')
  push('c')
  await turn()
  expect(batches.map((b) => b.topics)).toEqual([['a']])
  expect(order).toEqual([])
  batches[0]!.end()
  await turn()
  await turn()
  expect(order).toEqual(['a', 'answer'])
  expect(batches.map((b) => b.topics)).toEqual([['a'], ['b', 'c']])
})

test('no batch is larger than the cap', async () => {
  const { batches, push } = held({ cap: 3 })
  for (const topic of ['a', 'b', 'c', 'd', 'e', 'f', 'g']) push(topic)
  for (let i = 0; i < 3; i++) {
    await turn()
    batches[i]!.end()
    await turn()
  }
  expect(batches.map((b) => b.topics)).toEqual([['a', 'b', 'c'], ['d', 'e', 'f'], ['g']])
})

test('the valve closes at high water and opens when the pile is down', async () => {
  const { funnel, batches, push } = held({ cap: 2, highWater: 2 })
  push('a')
  await turn()
  push('b')
  expect(funnel.isFull()).toBe(false)
  push('c')
  expect(funnel.isFull()).toBe(true)
  let open = false
  funnel.whenRoom(() => (open = true))
  await turn()
  expect(open).toBe(false)
  batches[0]!.end()
  await turn()
  await turn()
  batches[1]!.end()
  await turn()
  expect(open).toBe(true)
  expect(funnel.isFull()).toBe(false)
})

test('a commit that failed is told to everybody in it, and the next one goes on', async () => {
  const { batches, order, push } = held()
  push('a')
  await turn()
  push('b')
  batches[0]!.end(new HubError('HUB_STORE_UNAVAILABLE', 'gone', { retry: false }))
  await turn()
  await turn()
  batches[1]!.end()
  await turn()
  expect(order).toEqual(['a failed', 'b', 'answer'])
})

test('idle waits for what is under way; dropped messages are told nothing', async () => {
  const { funnel, batches, order, push } = held()
  push('a')
  await turn()
  push('b')
  funnel.drop()
  let idle = false
  const done = funnel.idle().then(() => (idle = true))
  await turn()
  expect(idle).toBe(false)
  batches[0]!.end()
  await done
  expect(order).toEqual(['a', 'answer'])
  expect(batches).toHaveLength(1)
})

test('a second batch goes in beside the first when it is large enough, a third never does', async () => {
  const { batches, order, push } = held({ secondFrom: 2 })
  push('a')
  await turn()
  push('b')
  await turn()
  expect(batches).toHaveLength(1)
  push('c')
  await turn()
  for (const topic of ['d', 'e', 'f']) push(topic)
  await turn()
  expect(batches.map((b) => b.topics)).toEqual([['a'], ['b', 'c']])
  batches[0]!.end()
  await turn()
  await turn()
  expect(order).toEqual(['a', 'answer'])
  expect(batches.map((b) => b.topics)).toEqual([['a'], ['b', 'c'], ['d', 'e', 'f']])
})
