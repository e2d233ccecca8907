import { existsSync, statSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { makePath } from '#hub/store/make-path.ts'
import { openStores } from '#hub/store/open.ts'
import { tempDir } from '../../support/temp-dir.ts'

test('a folder is made with those above it, and one that is there is left', () => {
  using dir = tempDir()
  const deep = join(dir.path, 'a', 'b', 'c')
  makePath(deep, 0o700)
  makePath(deep)
  expect(statSync(deep).mode & 0o777).toBe(0o700)
  expect(statSync(join(dir.path, 'a')).mode & 0o777).toBe(0o700)
})

test('below a file nothing is made', () => {
  using dir = tempDir()
  writeFileSync(join(dir.path, 'file'), '')
  expect(() => makePath(join(dir.path, 'file', 'below'))).toThrow(/ENOTDIR/)
})

// The kernel's own folders are there, and nothing can be made in them.
test.runIf(existsSync('/proc/self'))(
  'a data folder where nothing can be made is refused at once, with what to do',
  async () => {
    expect(() => makePath('/proc/loamline-nowhere/deeper')).toThrow(/ENOENT/)
    await expect(openStores('/proc/loamline-nowhere')).rejects.toThrow(/LOAMLINE_DATA_DIR/)
  },
)
