import { expect, test } from 'vitest'
import { DAY } from '#hub/model/clock.ts'
import { openStores } from '#hub/store/open.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

const AT = Date.UTC(2026, 4, 1, 9)
const look = (at: number, freeBytes: number) => ({
  at,
  usedBytes: 5e9,
  freeBytes,
  totalBytes: 64e9,
  readings: 12,
})

test('raw readings are kept for ever until somebody says otherwise, and that is remembered', async () => {
  using folder = tempDir()
  let stores = await openStores(folder.path)
  expect(await stores.garden.retention()).toEqual({ rawMonths: null, decidedAt: null })
  const said = { rawMonths: 24, decidedAt: AT }
  expect(await stores.garden.setRetention(said)).toEqual(said)
  await stores.close()
  stores = await openStores(folder.path)
  expect(await stores.garden.retention()).toEqual(said)
  await stores.garden.setRetention({ rawMonths: null, decidedAt: AT + 1 })
  expect((await stores.garden.retention()).rawMonths).toBeNull()
  await stores.close()
})

test('of every day the last look stays, for four hundred days', async () => {
  using folder = tempDir()
  const stores = await openStores(folder.path)
  const { garden } = stores
  await garden.noteStorageDay(look(AT, 3e9))
  await garden.noteStorageDay(look(AT + DAY / 2, 2e9))
  await garden.noteStorageDay(look(AT + DAY, 1e9))
  expect((await garden.storageDays()).map(({ freeBytes }) => freeBytes)).toEqual([2e9, 1e9])
  await garden.noteStorageDay(look(AT + 401 * DAY, 9e9))
  expect(await garden.storageDays()).toEqual([look(AT + DAY, 1e9), look(AT + 401 * DAY, 9e9)])
  await stores.close()
})
