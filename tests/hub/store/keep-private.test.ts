import {
  chmodSync,
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  statSync,
  writeFileSync,
} from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import type { HubError } from '#hub/errors.ts'
import { backUp, restore } from '#hub/store/backup.ts'
import { keepPrivate } from '#hub/store/keep-private.ts'
import { openStores } from '#hub/store/open.ts'
import { tempDir } from '../../support/temp-dir.ts'

const NOW = Date.parse('2026-06-01T12:00:00Z')

const mode = (file: string): string => (statSync(file).mode & 0o777).toString(8)
const modes = (folder: string): Record<string, string> =>
  Object.fromEntries(
    readdirSync(folder)
      .filter((name) => /\.db(-wal|-shm)?$/.test(name))
      .map((name) => [name, mode(join(folder, name))]),
  )

test('a database is closed with what belongs to it, and nothing has to be there', () => {
  using dir = tempDir()
  const file = join(dir.path, 'some.db')
  expect(keepPrivate(file)).toBeNull()
  for (const end of ['', '-wal']) {
    writeFileSync(file + end, '')
    chmodSync(file + end, 0o644)
  }
  expect(keepPrivate(file)).toBeNull()
  expect(modes(dir.path)).toEqual({ 'some.db': '600', 'some.db-wal': '600' })
})

test.runIf(existsSync('/proc/self/status'))(
  'what cannot be closed is told, with what to do',
  () => {
    expect(keepPrivate('/proc/self/status')).toMatch(/read \/proc\/self\/status, .*'chmod 600' it/)
  },
)

test('a new data folder, a backup of it and what is restored are for their own user alone', async () => {
  using dir = tempDir()
  const [data, copy, back] = ['a/data', 'b/copy', 'c/back'].map((name) => join(dir.path, name))
  const troubles: HubError[] = []
  const stores = await openStores(data!, { onTrouble: (error) => troubles.push(error) })
  try {
    expect(mode(data!)).toBe('700')
    expect(Object.keys(modes(data!))).toContain('garden.db-wal')
    expect(new Set(Object.values(modes(data!)))).toEqual(new Set(['600']))
    await backUp(data!, copy!, { version: '1.2.3', now: NOW })
  } finally {
    await stores.close()
  }
  expect(troubles).toEqual([])
  expect(mode(copy!)).toBe('700')
  expect(modes(copy!)).toEqual({ 'garden.db': '600', 'readings.db': '600' })
  // As an earlier version left them.
  for (const name of ['garden.db', 'readings.db']) chmodSync(join(copy!, name), 0o644)
  await restore(copy!, back!, { replace: false, now: NOW })
  expect(mode(back!)).toBe('700')
  expect(modes(back!)).toEqual({ 'garden.db': '600', 'readings.db': '600' })
})

test('in folders that others may look into, the databases are closed and the folders left', async () => {
  using dir = tempDir()
  const [data, copy] = ['data', 'copy'].map((name) => join(dir.path, name))
  for (const folder of [data!, copy!]) {
    mkdirSync(folder)
    chmodSync(folder, 0o755)
  }
  await (await openStores(data!)).close()
  for (const name of Object.keys(modes(data!))) chmodSync(join(data!, name), 0o644)
  const stores = await openStores(data!)
  try {
    expect(mode(data!)).toBe('755')
    expect(new Set(Object.values(modes(data!)))).toEqual(new Set(['600']))
    await backUp(data!, copy!, { version: '1.2.3', now: NOW })
  } finally {
    await stores.close()
  }
  expect(mode(copy!)).toBe('755')
  expect(modes(copy!)).toEqual({ 'garden.db': '600', 'readings.db': '600' })
})

test('of a backup that fails nothing stays in the way of the next one', async () => {
  using dir = tempDir()
  const [data, copy] = ['data', 'copy'].map((name) => join(dir.path, name))
  await (await openStores(data!)).close()
  const whole = readFileSync(join(data!, 'garden.db'))
  writeFileSync(join(data!, 'garden.db'), 'no database at all, whatever its name says')
  const made = { version: '1.2.3', now: NOW }
  await expect(backUp(data!, copy!, made)).rejects.toThrow(/not a database/)
  expect(readdirSync(copy!)).toEqual([])
  writeFileSync(join(data!, 'garden.db'), whole)
  await backUp(data!, copy!, made)
  expect(modes(copy!)).toEqual({ 'garden.db': '600', 'readings.db': '600' })
})
