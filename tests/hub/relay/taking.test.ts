import { expect, test } from 'vitest'
import { HubError } from '#hub/errors.ts'
import type { Arrival } from '#hub/ingest/ingest.ts'
import { createTaking } from '#hub/relay/taking.ts'
import type { TakenMessage } from '#hub/store/spool-store.ts'
import { until } from '#tests/support/until.ts'

const arrival = (changes: Partial<Arrival> = {}): Arrival => ({
  topic: 'lm1/fern1/up/r',
  payload: Buffer.from('{"b":1}'),
  retain: false,
  arrivedAt: 1_700_000_000_000,
  mayBeDelayed: false,
  ...changes,
})

function make(failures: () => Error | null) {
  const kept: TakenMessage[][] = []
  const said: string[] = []
  let attempts = 0
  const taking = createTaking({
    spool: {
      async append(messages) {
        attempts++
        const error = failures()
        if (error !== null) throw error
        kept.push([...messages])
      },
    },
    clock: () => 1_700_000_000_000,
    log: {
      warn: (text) => said.push(`NOTE ${text}`),
      info: (text) => said.push(text),
    },
    onKept: (messages) => said.push(`kept ${messages}`),
    retryMs: [1, 2],
  })
  return { taking, kept, said, attempts: () => attempts }
}
const full = (retry: boolean): HubError =>
  new HubError('HUB_STORE_UNAVAILABLE', 'spool.db: the disk is full.', { retry })

test('messages are kept as they came and answered with nothing', async () => {
  const { taking, kept, said } = make(() => null)
  const batch = [arrival(), arrival({ mayBeDelayed: true, retain: true, refused: 'not allowed' })]
  expect(await taking.ingest(batch)).toEqual([])
  expect(kept).toEqual([batch])
  expect(said).toEqual(['kept 2'])
})

test('a spool that cannot be written holds the batch back until it can, and says so once', async () => {
  let broken = true
  const { taking, kept, said, attempts } = make(() => (broken ? full(true) : null))
  const done = taking.ingest([arrival()])
  await until('several attempts', () => attempts() > 4)
  expect(taking.state()).toMatchObject({ state: 'down', problem: 'spool.db: the disk is full.' })
  expect(kept).toEqual([])
  broken = false
  await done
  expect(kept).toHaveLength(1)
  expect(taking.state()).toMatchObject({ state: 'up', problem: null })
  expect(said).toEqual([
    'NOTE spool.db: the disk is full. The spool is not kept; messages wait at the broker until it is',
    'the spool takes messages again',
    'kept 1',
  ])
})

test('a spool that is broken for good refuses, so that nothing is confirmed', async () => {
  const { taking, said } = make(() => full(false))
  await expect(taking.ingest([arrival()])).rejects.toThrow('the disk is full')
  expect(taking.state().state).toBe('down')
  expect(said).toEqual([
    'NOTE spool.db: the disk is full. The spool is not kept; messages are not taken any more',
  ])
})

test('being stopped ends the waiting without confirming anything', async () => {
  const { taking, kept, attempts } = make(() => full(true))
  const done = taking.ingest([arrival()])
  await until('an attempt', () => attempts() > 0)
  taking.stop()
  await expect(done).rejects.toThrow('the disk is full')
  expect(kept).toEqual([])
})

test('of what no probe may send the beginning is kept, and why', async () => {
  const { taking, kept } = make(() => null)
  await taking.ingest([
    arrival({ payload: new Uint8Array(5000) }),
    arrival({ topic: `lm1/${'x'.repeat(2000)}/up/r` }),
    arrival({ topic: 'lm1/\ud800/up/r' }),
  ])
  const [long, topic, lone] = kept[0]!
  expect(long!.payload).toHaveLength(4096)
  expect(long!.refused).toBe('payload: expected at most 4096 bytes, got 5000 [LM-03]')
  expect(topic!.topic).toHaveLength(1024)
  expect(topic!.refused).toBe('topic: expected at most 1024 characters, got 2009 [LM-30]')
  expect(lone!.topic).toBe('lm1/\ufffd/up/r')
})
