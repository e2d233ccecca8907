import { expect, onTestFinished, test } from 'vitest'
import { HubError } from '#hub/errors.ts'
import { startRemote } from '#hub/store/sqlite/remote.ts'
import type { FragileApi } from './fragile-worker.ts'

const ENTRY = new URL('./fragile-worker.ts', import.meta.url)

async function start(refuse?: 'hub' | 'own') {
  const deaths: HubError[] = []
  const events: unknown[] = []
  const remote = await startRemote<FragileApi, { file: string; refuse?: 'hub' | 'own' }>(
    ENTRY,
    { file: 'x.db', ...(refuse === undefined ? {} : { refuse }) },
    { onDeath: (error) => deaths.push(error), onEvent: (event) => events.push(event) },
  )
  onTestFinished(() => remote.close().catch(() => {}))
  return { remote, deaths, events }
}

test('calls are answered, buffers move both ways, events arrive', async () => {
  const { remote, events } = await start()
  const column = new Float64Array([1, 2, 3])
  const answers = await Promise.all([
    remote.call('twice', [4]),
    remote.call('later', [5]),
    remote.call('column', [2]),
    remote.call('total', [column], [column.buffer]),
    remote.call('tell', ['rain']),
  ])
  expect(answers).toEqual([8, 5, new Float64Array([2, 2]), 6, undefined])
  expect(column).toHaveLength(0)
  expect(events).toEqual([{ what: 'rain' }])
})

test('a fault of the world arrives as a HubError, a mistake of ours as it is; the worker goes on', async () => {
  const { remote, deaths } = await start()
  await expect(remote.call('world', [])).rejects.toMatchObject({
    name: 'HubError',
    code: 'HUB_STORE_UNAVAILABLE',
    retry: true,
    message: 'x.db: the disk is full (database or disk is full).',
  })
  const slip = await remote.call('slip', []).catch((error: unknown) => error)
  expect(slip).not.toBeInstanceOf(HubError)
  expect((slip as Error).stack).toContain('fragile-worker.ts')
  await expect(remote.call('twice', [1])).resolves.toBe(2)
  expect(deaths).toEqual([])
})

test('opening that fails rejects the start with its reason', async () => {
  await expect(start('hub')).rejects.toMatchObject({ name: 'HubError', message: 'x.db is odd' })
  await expect(start('own')).rejects.toThrow('a slip')
})

test.for(['die', 'leave'] as const)(
  'a thread that ends by itself (%s) leaves no call hanging',
  async (how) => {
    const { remote, deaths } = await start()
    const hanging = remote.call('never', [])
    const asked = remote.call(how, []).catch(() => {})
    await expect(hanging).rejects.toMatchObject({
      code: 'HUB_STORE_UNAVAILABLE',
      message: expect.stringContaining(how === 'die' ? 'out of luck' : 'code 3'),
    })
    await asked
    await expect(remote.call('twice', [1])).rejects.toThrow(HubError)
    expect(deaths).toHaveLength(1)
    await remote.close()
  },
)

test('a call that is never answered hears that it was closed', async () => {
  const { remote, deaths } = await start()
  const hanging = remote.call('never', [])
  await Promise.all([remote.close(), expect(hanging).rejects.toThrow('x.db is closed')])
  expect(deaths).toEqual([])
})

test('what cannot be sent is refused and harms nothing', async () => {
  const { remote, deaths } = await start()
  await expect(remote.call('tell', [(() => 1) as unknown as string])).rejects.toThrow('clone')
  await expect(remote.call('twice', [2])).resolves.toBe(4)
  await remote.close()
  expect(deaths).toEqual([])
})

test('closing answers what waits, and is no death', async () => {
  const { remote, deaths } = await start()
  const last = remote.call('twice', [21])
  await Promise.all([remote.close(), remote.close()])
  await expect(last).resolves.toBe(42)
  await expect(remote.call('twice', [1])).rejects.toThrow('x.db is closed')
  expect(deaths).toEqual([])
})
