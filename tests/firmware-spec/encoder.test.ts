import { execFileSync } from 'node:child_process'
import { globSync, readFileSync } from 'node:fs'
import { basename, join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { decode } from '#hub/wire/payload.ts'
import { tempDir } from '../support/temp-dir.ts'
import { judge } from './independent-judge.ts'

const STRICT = ['-std=c99', '-Wall', '-Wextra', '-Wpedantic', '-Wconversion', '-Wshadow', '-Werror']
const SOURCE = 'firmware-spec/encoder/lm1.c'
/** An 8-bit board with 32 kB of program memory and 2 kB for everything else. */
const BOARD = 'atmega328p'

interface Line {
  readonly name: string
  readonly topic: string
  readonly payload: string
}

/** Runs a command of a compiler; says which Debian package is missing. */
function run(command: string, args: readonly string[], from: string): string {
  try {
    return execFileSync(command, args, { encoding: 'utf8' })
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'ENOENT') throw error
    throw new Error(`these tests need ${command} (Debian: apt-get install ${from})`, {
      cause: error,
    })
  }
}

const dir = tempDir()
let lines: Line[] = []
beforeAll(() => {
  const program = join(dir.path, 'host')
  const host = 'firmware-spec/encoder/host.c'
  // A read or write outside its place, or arithmetic C does not define, ends the program.
  const guarded = ['-fsanitize=address,undefined', '-fno-sanitize-recover=all']
  run('gcc', [...STRICT, ...guarded, '-o', program, host, SOURCE], 'gcc libc6-dev')
  lines = run(program, [], '')
    .trimEnd()
    .split('\n')
    .map((line) => {
      const [name = '', topic = '', payload = ''] = line.split('\t')
      return { name, topic, payload }
    })
})
afterAll(() => dir[Symbol.dispose]())

const named = (name: string): Line => {
  const found = lines.filter((line) => line.name === name)
  expect(found, name).toHaveLength(1)
  return found[0]!
}

/** Vectors no encoder writes: blanks, exponents, padding, what the hub sends, and one where the point stands otherwise. */
const NOT_WRITTEN = [
  'birth-24-characters',
  'channel-other',
  'plain-line-feed',
  'reading-249-bytes',
  'reading-blanks',
  'reading-exponent',
]

describe('the C encoder', () => {
  const vectors = globSync('firmware-spec/vectors/valid/*.json')
    .toSorted()
    .map((file) => ({
      name: basename(file, '.json'),
      ...(JSON.parse(readFileSync(file, 'utf8')) as { topic: string; payload: string }),
    }))
    .filter(({ name, topic }) => topic.includes('/up/') && !NOT_WRITTEN.includes(name))

  test.each(vectors)('writes $name byte for byte', ({ name, topic, payload }) => {
    expect(named(name)).toMatchObject({ topic, payload })
  })

  test('writes nothing that the hub or an independent judge would not take', () => {
    const written = lines.filter(
      ({ topic, payload }) => topic !== '' && payload !== '' && payload !== 'refused',
    )
    expect(written.length).toBeGreaterThan(25)
    for (const { name, topic, payload } of written) {
      if (name.startsWith('=')) continue
      const bytes = new TextEncoder().encode(payload)
      expect(judge(topic, bytes), name).toBeNull()
      expect(decode(topic, bytes, { strict: true }), name).toMatchObject({ notes: [] })
    }
  })

  test('refuses what breaks a rule or does not fit', () => {
    const refused = lines.filter(({ name }) => name.startsWith('!'))
    expect(refused.length).toBeGreaterThanOrEqual(20)
    for (const { name, payload } of refused) expect(payload, name).toBe('refused')
  })

  test('says how many rows of a batch went in when not all fit', () => {
    expect(named('taken').payload).toBe('6')
  })

  test('escapes what stands in a name', () => {
    expect(JSON.parse(named('+quoted').payload)).toMatchObject({ fw: 'a "b" \\c' })
  })

  test('reads what the hub sends, and nothing out of what is broken', () => {
    const at = lines.findIndex(({ name }) => name.startsWith('='))
    const read = lines.slice(at).flatMap(({ name, topic }, i, all) => {
      return name.startsWith('=') ? [[name.slice(1), all[i + 1]!.payload, topic]] : []
    })
    expect(Object.fromEntries(read.map(([payload, n]) => [payload, n]))).toEqual({
      '{"b":12,"n":345}': '345',
      '{"t":1780000000}': 'nothing',
      '(blanks)': '4294967295',
      '{"n":4294967296}': 'nothing',
      '{"n":-1}': 'nothing',
      '{"n":1.5}': 'nothing',
      '{"n":"7"}': 'nothing',
      '{"n":012}': 'nothing',
      '{"n":345': 'nothing',
      '{"n":345}x': 'nothing',
      '{"n":{"n":1}}': 'nothing',
      '[345]': 'nothing',
      '': 'nothing',
      '{}': 'nothing',
      '{"id":17,"do":"resend","b":12,"n":346,"k":15}': '346',
      '{"do":"a\\"b","n":1}': 'nothing',
      '{"nn":1}': 'nothing',
      '{"n":}': 'nothing',
    })
    expect(read.filter(([, , word]) => word !== '-').map(([, , word]) => word)).toEqual(['resend'])
  })

  test('counts seconds over the wrap of a 32-bit millisecond counter, and sleep with them', () => {
    // 1440 steps of 3599.7 s are 60 days less 432 s; the counter wraps after 49.7 days.
    expect(named('uptime').payload).toBe(String(1440 * 3599.7))
    expect(named('slept').payload).toBe(String(1440 * 3599.7 + 900))
  })

  test('fits the smallest board, with no floating point, heap or printf in it', () => {
    const object = join(dir.path, 'lm1.o')
    const flags = [...STRICT, `-mmcu=${BOARD}`, '-Os', '-c', SOURCE, '-o', object]
    run('avr-gcc', flags, 'gcc-avr avr-libc')
    const [, figures = ''] = run('avr-size', [object], 'binutils-avr').split('\n')
    const [text = NaN, data = NaN, bss = NaN] = figures.trim().split(/\s+/).map(Number)
    // All of it in a quarter of 32 kB; a linker takes only what is used.
    expect(text).toBeGreaterThan(1000)
    expect(text).toBeLessThan(8192)
    expect(data + bss, 'bytes of memory that are never given back').toBe(0)
    const needed = run('avr-nm', ['-u', object], 'binutils-avr')
    // Whole-number division is all it may ask of the compiler's library.
    const asked = needed.match(/\S+$/gm) ?? []
    expect(
      asked.filter(
        (symbol) =>
          !/^__(u?div|u?mod|mul|tablejump|prologue|epilogue|do_|muluhisi|usmulhisi|umulhisi)/.test(
            symbol,
          ),
      ),
    ).toEqual([])
  })
})
