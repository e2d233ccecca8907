import { createReadStream, createWriteStream } from 'node:fs'
import { open, stat } from 'node:fs/promises'
import { basename, join } from 'node:path'
import { pipeline } from 'node:stream/promises'
import { say } from '../words/say.ts'

/** Header and content are padded to whole blocks (IEEE Std 1003.1-2017, pax, "ustar Interchange Format"). */
const BLOCK = 512
/** Eleven octal digits. */
const MOST_BYTES = 8 ** 11 - 1
/** A backup has three files. */
const MOST_FILES = 16
/** A plain file; an archive of others may hold links, folders, devices and names for what follows. */
const PLAIN = /^[0\0]$/

/** The header of one file in a ustar archive. `at`: epoch ms. */
export function tarHeader(name: string, bytes: number, at: number): Buffer {
  if (Buffer.byteLength(name) > 100) throw new RangeError(`the name ${name} is too long`)
  if (bytes > MOST_BYTES) throw new RangeError(`${name} is larger than 8 GiB`)
  const head = Buffer.alloc(BLOCK)
  const octal = (value: number, from: number, digits: number): void => {
    head.write(`${value.toString(8).padStart(digits, '0')}\0`, from, 'latin1')
  }
  head.write(name, 0)
  octal(0o600, 100, 7)
  octal(0, 108, 7)
  octal(0, 116, 7)
  octal(bytes, 124, 11)
  octal(Math.floor(at / 1000), 136, 11)
  head.write('        ', 148, 'latin1')
  head.write('0', 156, 'latin1')
  head.write('ustar\x0000', 257, 'latin1')
  head.write(`${checksum(head).toString(8).padStart(6, '0')}\0 `, 148, 'latin1')
  return head
}

/** Sum of the bytes of a header, its own field counted as spaces. */
const checksum = (head: Buffer): number =>
  head.reduce((total, byte, i) => total + (i >= 148 && i < 156 ? 32 : byte), 0)
const padding = (bytes: number): Buffer => Buffer.alloc((BLOCK - (bytes % BLOCK)) % BLOCK)

const noArchive = (): Error =>
  new Error(say`expected the archive of a backup (.tar), got something else`)

/** Files as one ustar archive, piece by piece. */
export async function* tarOf(files: readonly string[], at: number): AsyncGenerator<Uint8Array> {
  for (const file of files) {
    const { size } = await stat(file)
    yield tarHeader(basename(file), size, at)
    for await (const piece of createReadStream(file)) yield piece as Buffer
    yield padding(size)
  }
  yield Buffer.alloc(2 * BLOCK)
}

/**
 * Takes the files of a ustar archive out into a folder, by their bare names. Anything but plain files with such names
 * is refused: links, folders, devices, paths, more files than a backup has. What is written is never more than the
 * archive itself holds, which is not compressed.
 *
 * @throws Error when it is no such archive, or broke off; says so in the language spoken here, without its name
 */
export async function untar(archive: string, folder: string): Promise<void> {
  const handle = await open(archive, 'r')
  try {
    const head = Buffer.alloc(BLOCK)
    const names = new Set<string>()
    for (let at = 0; ;) {
      const { bytesRead } = await handle.read(head, 0, BLOCK, at)
      if (bytesRead < BLOCK) throw at === 0 ? noArchive() : new Error(say`the archive broke off`)
      if (head.every((byte) => byte === 0)) return
      const text = (from: number, length: number): string =>
        head
          .toString('utf8', from, from + length)
          .split('\0', 1)[0]!
          .trim()
      if (text(257, 5) !== 'ustar') throw noArchive()
      const name = text(0, 100)
      const size = /^[0-7]{1,11}$/.test(text(124, 12)) ? parseInt(text(124, 12), 8) : NaN
      const isBare = /^[\w.-]+$/.test(name) && !name.startsWith('.') && text(345, 155) === ''
      const kind = head.toString('latin1', 156, 157)
      if (!isBare || !PLAIN.test(kind) || Number.isNaN(size) || names.has(name)) {
        const shown = JSON.stringify(name)
        throw new Error(
          PLAIN.test(kind)
            ? say`expected the files of a backup in the archive, got ${shown}`
            : say`expected the files of a backup in the archive, got ${shown}, which is no plain file (kind ${JSON.stringify(kind)})`,
        )
      }
      if (names.add(name).size > MOST_FILES) {
        throw new Error(
          say`expected the files of a backup in the archive, got more than ${MOST_FILES}`,
        )
      }
      if (checksum(head) !== parseInt(text(148, 8), 8)) {
        throw new Error(say`the archive is damaged: the header of ${name} does not add up`)
      }
      at += BLOCK
      const end = at + size
      if ((await handle.stat()).size < end) {
        throw new Error(say`the archive broke off within ${name}`)
      }
      const out = createWriteStream(join(folder, name), { flags: 'wx', mode: 0o600 })
      if (size === 0) out.end()
      else await pipeline(createReadStream(archive, { start: at, end: end - 1 }), out)
      at = end + padding(size).length
    }
  } finally {
    await handle.close()
  }
}
