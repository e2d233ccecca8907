import { expect, test } from 'vitest'
import type { MessageView } from '#hub/api/schemas/message.ts'
import { aNewRoute } from '../support/alarm-fixture.ts'
import { fillWithAlarms } from '../support/alarms-to-tell.ts'
import { cloudEventFaults } from '../support/cloud-events-schema.ts'
import { startHub } from '../support/hub-process.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'
import { startReceiver } from '../support/webhook-receiver.ts'

test('a hub that is killed again and again tells every alarm; what it repeats it says so', async () => {
  using folder = tempDir()
  await using receiver = await startReceiver()
  const target = { way: 'webhook', url: receiver.url, privateAllowed: true } as const
  const ALARMS = 30
  await fillWithAlarms(folder.path, [aNewRoute({ target })], ALARMS)
  for (const enough of [4, 11, 19]) {
    const hub = await startHub('start', folder.path)
    await until(`${enough} messages came`, () => receiver.seen.length >= enough, 20_000)
    // In the middle of one: the receiver has it and has not answered yet.
    receiver.manner = 'hang'
    const before = receiver.seen.length
    await until('one is under way', () => receiver.seen.length > before)
    await hub.end('SIGKILL')
    receiver.manner = 200
  }
  await using hub = await startHub('start', folder.path)
  await until('all have come', () => receiver.taken.length >= ALARMS, 20_000)
  await until('all are marked as sent', async () =>
    (await hub.get<MessageView[]>('/api/messages?limit=100')).every(
      ({ state }) => state === 'sent',
    ),
  )
  const told = receiver.taken.map(({ event }) => {
    const { alarms } = event['data'] as { alarms: { id: number }[] }
    return alarms.map(({ id }) => id).join()
  })
  // In order, each once: the ones that were cut off had not been answered.
  expect(told).toEqual(Array.from({ length: ALARMS }, (_, i) => String(i + 1)))
  const times = new Map<string, number>()
  for (const { event } of receiver.seen) {
    expect(cloudEventFaults(event)).toEqual([])
    const before = times.get(event.id) ?? 0
    times.set(event.id, before + 1)
    expect(event['possiblerepeat'] ?? false).toBe(before > 0)
  }
  expect(times.size).toBe(ALARMS)
  expect([...times.values()].filter((n) => n > 1)).toHaveLength(3)
}, 120_000)
