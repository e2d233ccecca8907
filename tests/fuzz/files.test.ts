import { parse } from 'csv-parse/sync'
import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { importMap } from '#hub/api/schemas/transfer.ts'
import { csvLines } from '#hub/transfer/csv-lines.ts'
import { guessMap } from '#hub/transfer/guess-map.ts'
import type { ImportMap } from '#hub/transfer/import-map.ts'
import { parseLine } from '#hub/transfer/line-protocol.ts'
import { readImport, type RawRow } from '#hub/transfer/read-import.ts'
import { NoTable } from '#hub/transfer/table-rows.ts'
import { takeIn } from '#hub/transfer/take-in.ts'
import { GOOD_FILES, GOOD_MAPS } from './good-bodies.ts'
import { hostileNumber, hostileText, hostileJson } from './hostile.ts'
import { longest, runs } from './size.ts'

/*
 * Files of every kind through every reader: tables, line protocol, SenML. A reader tells of each row that it was read
 * or what was expected; it never throws, never hangs, and what it hands on is finite or a sensor that failed.
 */

const NOW = Date.UTC(2026, 5, 1)

// oxlint-disable-next-line require-await -- a source is asynchronous
async function* pieces(bytes: Uint8Array, size: number): AsyncGenerator<Uint8Array> {
  for (let at = 0; at < bytes.length; at += size) yield bytes.subarray(at, at + size)
}

const cell = fc.oneof(
  { weight: 3, arbitrary: fc.constantFrom('kes1', '6.5', '2026-05-01T06:15:00Z', '', 'nan') },
  { weight: 2, arbitrary: hostileText },
  { weight: 1, arbitrary: hostileNumber.map(String) },
)
const quoted = fc
  .tuple(cell, fc.nat(4))
  .map(([text, way]) =>
    way === 0
      ? `"${text.replaceAll('"', '""')}"`
      : way === 1
        ? `"${text}`
        : way === 2
          ? `${text}"`
          : text,
  )
const formula = fc
  .tuple(fc.constantFrom('=', '+', '-', '@', '\t=', '\r=', '\uff1d'), fc.string({ maxLength: 20 }))
  .map((parts) => parts.join(''))
const table = fc
  .tuple(
    fc.constantFrom(',', ';', '\t', '|'),
    fc.array(fc.array(quoted, { maxLength: 5 }), { maxLength: 12 }),
    fc.constantFrom('\n', '\r\n', '\r'),
  )
  .map(([by, rows, end]) => `time${by}probe${by}ph${end}${rows.map((r) => r.join(by)).join(end)}`)

const token = fc.oneof(
  fc.constantFrom(
    'reading',
    'probe',
    'kes1',
    '=',
    ',',
    ' ',
    '\\',
    '"',
    '1i',
    '6.5',
    't',
    '\\,',
    '\n',
    '#',
  ),
  hostileText,
)
const line = fc.array(token, { maxLength: 24 }).map((parts) => parts.join(''))

const label = fc.constantFrom(
  'bn',
  'bt',
  'bu',
  'bv',
  'bver',
  'n',
  'u',
  'v',
  'vs',
  'vb',
  's',
  't',
  'x_',
  '__proto__',
)
const record = fc
  .array(
    fc.tuple(label, fc.oneof(hostileText, hostileNumber, fc.constantFrom<unknown>(null, [], {}))),
    {
      maxLength: 6,
    },
  )
  .map(
    (fields) => `{${fields.map(([name, value]) => `"${name}":${hostileJson(value)}`).join(',')}}`,
  )
const senml = fc
  .tuple(fc.array(fc.oneof(record, token), { maxLength: 8 }), fc.constantFrom(']', '', ',]', ']]'))
  .map(([records, end]) => `[${records.join(',')}${end}`)

const text = fc.oneof(
  table,
  line,
  senml,
  fc.constantFrom(...GOOD_FILES),
  fc
    .tuple(fc.constantFrom(...GOOD_FILES), hostileText, fc.nat(80))
    .map(([file, by, at]) => file.slice(0, at) + by + file.slice(at)),
)
const file = fc.oneof(
  { weight: 6, arbitrary: text.map((one) => Buffer.from(one)) },
  { weight: 1, arbitrary: text.map((one) => Buffer.from(`\ufeff${one}`, 'utf16le')) },
  { weight: 1, arbitrary: text.map((one) => Buffer.from(one, 'latin1')) },
  { weight: 1, arbitrary: fc.uint8Array({ maxLength: 600 }).map((one) => Buffer.from(one)) },
)
const map: fc.Arbitrary<ImportMap> = fc.constantFrom<ImportMap>(
  ...GOOD_MAPS,
  { layout: 'senml', probe: { column: 'name' }, channels: [] },
  { layout: 'senml', probe: { id: 'kes1' }, channels: [] },
)

function faultOf(row: RawRow): string | null {
  if (row.kind === 'bad') {
    if (row.expected === '') return 'nothing is said to be expected'
    return row.got.length > 80 ? `${row.got.length} characters of what came` : null
  }
  if (!Number.isSafeInteger(row.at)) return `a time of ${row.at}`
  const off = row.values.find(({ value }) => !Number.isFinite(value) && !Number.isNaN(value))
  return off === undefined ? null : `a value of ${off.value}`
}

describe('whatever a file holds', () => {
  test(
    'its rows are read, or it is said what was expected; what is taken in is a reading',
    async () => {
      let [read, bad] = [0, 0]
      await fc.assert(
        fc.asyncProperty(file, map, fc.integer({ min: 1, max: 700 }), async (bytes, how, size) => {
          const taking = takeIn(how, { probes: [], channels: [] }, NOW)
          for await (const row of readImport(pieces(bytes, size), how)) {
            const fault = faultOf(row)
            if (fault !== null) throw new Error(fault)
            if (row.kind === 'row') read++
            else bad++
            taking.add(row)
          }
          for (const { probe, at, values } of taking.readings()) {
            expect(probe).toMatch(/^[a-z][a-z0-9]{2,22}$/)
            expect(at).toBeGreaterThanOrEqual(Date.UTC(2000, 0, 1))
            for (const { channel } of values) expect(channel).toMatch(/^[a-z][a-z0-9]{0,7}(\.s)?$/)
          }
        }),
        runs(1500),
      )
      expect(read).toBeGreaterThan(100)
      expect(bad).toBeGreaterThan(200)
    },
    longest(60_000),
  )

  test(
    'a first look at it guesses, or says that it is no table; a whole guess is a map that can be sent',
    async () => {
      await fc.assert(
        fc.asyncProperty(file, async (bytes) => {
          try {
            const look = await guessMap(bytes, 'Europe/Lisbon')
            const known = { ...look.map, probe: { id: 'kes1' } }
            const { success, error } = importMap.safeParse(known)
            // Only what the file does not name is left open.
            const open = error?.issues.map(({ path }) => path[0]) ?? []
            expect(success || open.every((key) => key === 'time' || key === 'channels')).toBe(true)
          } catch (error) {
            if (!(error instanceof NoTable)) throw error
          }
        }),
        runs(800),
      )
    },
    longest(60_000),
  )

  test(
    'a line of line protocol is read in a time that grows with its length, not faster',
    () => {
      fc.assert(
        fc.property(line, (one) => {
          const parsed = parseLine(one)
          if (parsed !== null && 'expected' in parsed) expect(parsed.got.length).toBeLessThan(61)
        }),
        runs(2000),
      )
      const long = 'x'.repeat(60_000)
      for (const one of [
        `${long} a=1`,
        `a b="${'\\"'.repeat(30_000)}`,
        `a ${'b=1,'.repeat(15_000)}`,
        '\\'.repeat(60_000),
        `a b="${long}`,
      ]) {
        const began = performance.now()
        parseLine(one)
        expect(performance.now() - began).toBeLessThan(2000)
      }
    },
    longest(60_000),
  )
})

test(
  'no cell of a table that goes out begins as a formula does, and each comes in as it was',
  () => {
    const texts = fc.array(fc.oneof(hostileText, formula), { minLength: 2, maxLength: 4 })
    fc.assert(
      fc.property(fc.array(texts, { minLength: 1, maxLength: 5 }), (rows) => {
        // As a spreadsheet reads it, without the trimming of our own reader.
        const read = parse(csvLines(rows, true), {
          bom: true,
          relax_column_count: true,
          record_delimiter: '\r\n',
        })
        const begins = /^[=+\-@\t\r\uff0b\uff0d\uff1d\uff20]/
        for (const one of read.flat()) expect(one).not.toMatch(begins)
        const plain = read.map((row) =>
          row.map((one) => one.replace(/^'(?=[=+\-@\t\r\uff0b\uff0d\uff1d\uff20])/, '')),
        )
        // Lone surrogates have no UTF-8, and are none of ours to keep.
        expect(plain).toEqual(rows.map((row) => row.map((one) => one.toWellFormed())))
      }),
      runs(500),
    )
  },
  longest(60_000),
)
