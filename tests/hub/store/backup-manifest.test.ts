import { mkdirSync, symlinkSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { HubError } from '#hub/errors.ts'
import { readManifest } from '#hub/store/backup-manifest.ts'
import { tempDir } from '../../support/temp-dir.ts'

const refuse = (message: string, cause?: unknown): HubError =>
  new HubError('HUB_STORE_UNAVAILABLE', message, { retry: false, cause })
const FILE = { name: 'garden.db', bytes: 1, sha256: 'a'.repeat(64), layout: 3 }
const GOOD = { format: 1, version: '1.2.3', madeAt: 1_780_000_000_000, files: [FILE] }

function read(content: string | Buffer): unknown {
  using dir = tempDir()
  const file = join(dir.path, 'backup.json')
  writeFileSync(file, content)
  return readManifest(dir.path, file, refuse)
}

test('what a hub wrote is read', () => {
  expect(read(JSON.stringify(GOOD))).toEqual(GOOD)
})

test.each([
  'null',
  '[]',
  '7',
  '"x"',
  'no JSON',
  '',
  JSON.stringify({ ...GOOD, format: 2 }),
  JSON.stringify({ ...GOOD, files: null }),
  JSON.stringify({ ...GOOD, files: [null] }),
  JSON.stringify({ ...GOOD, files: [{ ...FILE, sha256: 7 }] }),
  JSON.stringify({ ...GOOD, files: [{ ...FILE, sha256: '\u001b[2J' }] }),
  JSON.stringify({ ...GOOD, files: [{ ...FILE, name: ['garden.db'] }] }),
  JSON.stringify({ ...GOOD, madeAt: 'yesterday' }),
  JSON.stringify({ ...GOOD, madeAt: 1e300 }),
  JSON.stringify({ ...GOOD, version: '\u001b[2Jplanted\n' }),
  JSON.stringify({ ...GOOD, version: 'x'.repeat(5000) }),
  `{"__proto__":{"format":1},"files":[]}`,
  `${'['.repeat(30_000)}`,
  Buffer.alloc(100_000, 'x'),
  Buffer.from([0xff, 0xfe, 0x00]),
])('a manifest of others is refused with what was expected: %#', (content) => {
  let message = ''
  try {
    read(content)
  } catch (error) {
    expect(error).toBeInstanceOf(HubError)
    message = (error as Error).message
  }
  expect(message).toMatch(/expected/)
  expect(message.length).toBeLessThan(500)
  // oxlint-disable-next-line no-control-regex -- none may come through
  expect(message).not.toMatch(/[\u0000-\u001f]/)
})

test('what is no file is not read', () => {
  using dir = tempDir()
  mkdirSync(join(dir.path, 'backup.json'))
  expect(() => readManifest(dir.path, join(dir.path, 'backup.json'), refuse)).toThrow(/no file/)
  symlinkSync('/dev/zero', join(dir.path, 'zero.json'))
  expect(() => readManifest(dir.path, join(dir.path, 'zero.json'), refuse)).toThrow(/no file/)
})
