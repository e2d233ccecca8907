import { expect, test } from 'vitest'
import type { Health } from '#hub/api/schemas/health.ts'
import { startHub } from '../../support/hub-process.ts'
import { tempDir } from '../../support/temp-dir.ts'
import { until } from '../../support/until.ts'

test('a second demo on the same folder is refused and leaves the first one whole', async () => {
  using dir = tempDir()
  await using first = await startHub('demo', dir.path)
  // By its own ports the second one would be welcome.
  await expect(startHub('demo', dir.path)).rejects.toThrow(/ended \(2\)[\s\S]*HUB_STORE_LOCKED/)
  expect((await first.get<Health>('/api/health')).store).toEqual({ state: 'up', problem: null })
  expect(await first.end()).toBe(0)
  await using again = await startHub('demo', dir.path)
  expect(await again.end('SIGKILL')).not.toBe(0)
}, 60_000)

test('a demo that is stopped while it is being made ends without a complaint', async () => {
  using dir = tempDir()
  await using hub = await startHub('demo', dir.path, { LOAMLINE_LOG_LEVEL: 'warn' })
  // The page answers a moment before the history is begun.
  await until(
    'the history is being made',
    async () => (await hub.get<Health>('/api/health')).loading !== null,
  )
  expect(await hub.end('SIGTERM')).toBe(0)
  expect(hub.output()).not.toMatch(/HUB_|Error|is closed/)
}, 30_000)
