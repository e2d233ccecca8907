import { readdirSync, readFileSync, statSync, symlinkSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { tarHeader, tarOf, untar } from '#hub/transfer/tar.ts'
import { tempDir } from '../../support/temp-dir.ts'

/** Header and padded content of one entry; `change` works on the header, whose sum is put right afterwards. */
function entry(name: string, content: string, change: (head: Buffer) => void = () => {}): Buffer {
  const head = tarHeader('x', content.length, 0)
  head.fill(0, 0, 100)
  head.write(name, 0)
  change(head)
  head.fill(' ', 148, 156)
  const sum = head.reduce((total, byte) => total + byte, 0)
  head.write(`${sum.toString(8).padStart(6, '0')}\0 `, 148, 'latin1')
  return Buffer.concat([
    head,
    Buffer.from(content),
    Buffer.alloc((512 - (content.length % 512)) % 512),
  ])
}
const END = Buffer.alloc(1024)

/** Unpacks into a folder within another; resolves to what lies in both, or why it was refused. */
async function unpacked(...parts: readonly Buffer[]) {
  using dir = tempDir()
  const archive = join(dir.path, 'a.tar')
  writeFileSync(archive, Buffer.concat(parts))
  const folder = tempDir()
  try {
    const refused = await untar(archive, folder.path).then(
      () => null,
      (error: unknown) => (error as Error).message,
    )
    const files = readdirSync(folder.path)
    return { refused, files, beside: readdirSync(dir.path) }
  } finally {
    folder[Symbol.dispose]()
  }
}

test('what was packed comes out as it was, readable for its owner alone', async () => {
  using dir = tempDir()
  const file = join(dir.path, 'garden.db')
  writeFileSync(file, 'x'.repeat(1000))
  const archive = join(dir.path, 'a.tar')
  writeFileSync(archive, Buffer.concat(await Array.fromAsync(tarOf([file], 0))))
  using out = tempDir()
  await untar(archive, out.path)
  expect(readFileSync(join(out.path, 'garden.db'), 'utf8')).toBe('x'.repeat(1000))
  expect(statSync(join(out.path, 'garden.db')).mode & 0o777).toBe(0o600)
})

test.each([
  '../escaped',
  '/tmp/loamline-escaped',
  'a/b',
  '..',
  '.hidden',
  '',
  'a\\b',
  'con\u0007trol',
  'a b',
])('a file called %j is refused, and nothing is written', async (name) => {
  const { refused, files, beside } = await unpacked(entry(name, 'planted'), END)
  expect(refused).toMatch(/expected the files of a backup/)
  expect(refused).not.toContain('\u0007')
  expect(files).toEqual([])
  expect(beside).toEqual(['a.tar'])
})

test.each([
  ['a hard link', '1'],
  ['a symbolic link', '2'],
  ['a device', '3'],
  ['a folder', '5'],
  ['a pipe', '6'],
  ['a header for what follows', 'x'],
  ['a long name', 'L'],
  ['a file with holes', 'S'],
])('%s is refused', async (_, kind) => {
  const link = entry('garden.db', '', (head) => {
    head.write(kind, 156)
    head.write('/etc/passwd', 157)
  })
  const { refused, files } = await unpacked(link, END)
  expect(refused).toMatch(/no plain file/)
  expect(files).toEqual([])
})

test.each([['-7777777777'], ['77777777777'], ['999'], ['\u0080\u0000\u0000\u0001'], ['zzz'], ['']])(
  'a size of %j is refused',
  async (size) => {
    const file = entry('garden.db', 'abc', (head) => {
      head.fill(0, 124, 136)
      head.write(size, 124, 'latin1')
    })
    const { refused } = await unpacked(file, END)
    expect(refused).toMatch(/expected the files of a backup|broke off/)
  },
)

test('a path in the field for long names, a name twice, a header that does not add up and too many files are refused', async () => {
  const long = entry('passwd', 'x', (head) => head.write('/etc', 345))
  expect((await unpacked(long, END)).refused).toMatch(/expected the files of a backup/)
  const twice = entry('garden.db', 'one')
  expect((await unpacked(twice, entry('garden.db', 'two'), END)).refused).toMatch(
    /expected the files/,
  )
  const damaged = entry('garden.db', 'abc')
  damaged[3] = 0x7a
  expect((await unpacked(damaged, END)).refused).toMatch(/does not add up/)
  const many = Array.from({ length: 40 }, (_, i) => entry(`f${i}`, ''))
  const { refused, files } = await unpacked(...many, END)
  expect(refused).toMatch(/more than 16/)
  expect(files.length).toBeLessThan(17)
})

test('a link that waits in the folder is not written through', async () => {
  using dir = tempDir()
  const outside = join(dir.path, 'outside')
  writeFileSync(outside, 'untouched')
  const archive = join(dir.path, 'a.tar')
  writeFileSync(archive, Buffer.concat([entry('garden.db', 'planted'), END]))
  using folder = tempDir()
  symlinkSync(outside, join(folder.path, 'garden.db'))
  await expect(untar(archive, folder.path)).rejects.toThrow(/EEXIST/)
  expect(readFileSync(outside, 'utf8')).toBe('untouched')
})

test.each([
  ['nothing', ''],
  ['less than a header', 'no archive'],
  ['another file', 'x'.repeat(2000)],
])('%s is no archive, and is told without the name of a file', async (_, content) => {
  const { refused, files } = await unpacked(Buffer.from(content))
  expect(refused).toBe('expected the archive of a backup (.tar), got something else')
  expect(files).toEqual([])
})

test('an archive that was cut off says so', async () => {
  const whole = entry('garden.db', 'x'.repeat(2000))
  expect((await unpacked(whole)).refused).toBe('the archive broke off')
  expect((await unpacked(whole.subarray(0, 1000))).refused).toBe(
    'the archive broke off within garden.db',
  )
})
