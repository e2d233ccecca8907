import { expect, test } from 'vitest'
import { checkImport } from '#hub/transfer/check-import.ts'
import { guessMap } from '#hub/transfer/guess-map.ts'
import type { ImportMap } from '#hub/transfer/import-map.ts'
import { senmlRows } from '#hub/transfer/senml.ts'
import { storeImport } from '#hub/transfer/store-import.ts'
import { fileOf, NOW, transferHost } from './transfer-host.ts'

const SENML: ImportMap = { layout: 'senml', probe: { column: 'name' }, channels: [] }
const T0 = Date.parse('2026-05-01T10:00:00Z') / 1000
const rows = (text: string, piece = 17) => Array.fromAsync(senmlRows(fileOf(text, piece)))
const measured = async (text: string) =>
  (await rows(text)).map((row) => ('measured' in row ? row.measured : row.problem))

test('base name, base time and base unit hold for what follows, until they are given anew', async () => {
  // Shaped as the example of several measurements in RFC 8428, 5.1.2 (from memory): resolved as in 5.1.3.
  const text = `[
    {"bn":"urn:dev:ow:10e2073a01080063:","bt":1.276020076001e+09,"bu":"A","bver":5,
     "n":"voltage","u":"V","v":120.1},
    {"n":"current","t":-5,"v":1.2},
    {"n":"current","t":-4,"v":1.3},
    {"bn":"urn:dev:ow:two:","n":"current","v":1.7}]`
  expect(await measured(text)).toEqual([
    { name: 'urn:dev:ow:10e2073a01080063:voltage', unit: 'V', at: 1276020076001, value: 120.1 },
    { name: 'urn:dev:ow:10e2073a01080063:current', unit: 'A', at: 1276020071001, value: 1.2 },
    { name: 'urn:dev:ow:10e2073a01080063:current', unit: 'A', at: 1276020072001, value: 1.3 },
    { name: 'urn:dev:ow:two:current', unit: 'A', at: 1276020076001, value: 1.7 },
  ])
})

test('a base value is added; a record of base fields alone is no measurement', async () => {
  const text = `[{"bn":"fern1/","bt":${T0},"bv":20},{"n":"st","v":0.1},{"n":"st","t":60,"v":-0.2}]`
  expect(await measured(text)).toEqual([
    { name: 'fern1/st', unit: null, at: T0 * 1000, value: 20.1 },
    { name: 'fern1/st', unit: null, at: (T0 + 60) * 1000, value: 19.8 },
  ])
})

test.each([
  ['a time that counts from now', `{"n":"fern1/st","v":1}`, 't', /from now/],
  ['a time in the past of now', `{"n":"fern1/st","t":-60,"v":1}`, 't', /from now/],
  ['an uptime that passes for the future', `{"n":"fern1/st","t":86460,"v":1}`, 't', /from now/],
  ['text instead of a number', `{"n":"fern1/st","t":${T0},"v":"1"}`, 'v', /a number/],
  ['a sum alone', `{"n":"fern1/st","t":${T0},"s":5}`, 'v', /a number/],
  ['a text value', `{"n":"fern1/st","t":${T0},"vs":"on"}`, 'v', /a number/],
  ['no name', `{"t":${T0},"v":1}`, 'n', /a name/],
  ['a name of other characters', `{"n":"fern 1","t":${T0},"v":1}`, 'n', /a name/],
  ['a name that begins wrongly', `{"n":"/fern1","t":${T0},"v":1}`, 'n', /a name/],
  ['a newer version', `{"bver":11,"n":"fern1/st","t":${T0},"v":1}`, 'bver', /version 10/],
  ['a label that must be known', `{"n":"fern1/st","t":${T0},"v":1,"xy_":1}`, null, /_/],
  ['no JSON', `{"n":nan}`, null, /JSON/],
  ['a number beyond all', `{"n":"fern1/st","t":${T0},"v":1e999}`, 'v', /a number/],
])('%s is refused with what was expected', async (_, record, label, expected) => {
  const good = `{"bver":null}`.replace('"bver":null', `"n":"fern1/m1","t":${T0},"v":1`)
  const found = await rows(`[${record},${good}]`)
  expect(found[0]).toMatchObject({ number: 1, problem: { label } })
  expect('problem' in found[0]! && found[0].problem.expected).toMatch(expected)
  // What follows is read all the same.
  expect(found[1]).toMatchObject({ number: 2, measured: { name: 'fern1/m1' } })
})

test.each([
  ['', /begins with \[/],
  ['{"n":"a"}', /begins with \[/],
  ['[{"n":"a/st"', /ends with \]/],
  ['[', /ends with \]/],
  ['[1]', /\{ \}/],
  ['[{} {}]', /\{ \}/],
  ['[{},]', /\{ \}/],
  ['[] and more', /nothing behind/],
  [`[{"n":"${'x'.repeat(70_000)}`, /64 KiB/],
])('a file that is no array of records is refused where it shows: %#', async (text, expected) => {
  for (const piece of [1, 5000]) {
    const last = (await rows(text, piece)).at(-1)!
    expect('problem' in last && last.problem.expected).toMatch(expected)
  }
})

test('braces, quotes and line ends within text are no borders', async () => {
  const text = `[{"n":"fern1/st","t":${T0},"v":1,"note":"a } ] \\" , {"},\n\n{"n":"fern1/st","t":${T0 + 1},"v":2}]`
  for (const piece of [1, 2, 3, 1000]) {
    expect((await rows(text, piece)).map(({ line, number }) => [line, number])).toEqual([
      [1, 1],
      [3, 2],
    ])
  }
})

test('a file is guessed, stored and stored once; units are converted', async () => {
  await using host = await transferHost()
  const text = JSON.stringify([
    { bn: 'urn:dev:loam:fern1:', bt: T0, n: 'phmv', u: 'V', v: 0.0125 },
    { n: 'st', u: 'K', v: 293.15 },
    { n: 'phmv', u: 'V', t: 600, v: 0.0126 },
    { n: 'rssi', u: 'dBW', t: 600, v: -90 },
  ])
  const { map, columns } = await guessMap(Buffer.from(text), 'UTC')
  expect(map).toEqual(SENML)
  expect(columns).toEqual(['phmv', 'st', 'rssi'])
  const first = await storeImport(fileOf(text), SENML, host.deps)
  expect(first).toMatchObject({ stored: 2, report: { rows: 4, readings: 2, badCount: 0 } })
  expect(await storeImport(fileOf(text), SENML, host.deps)).toMatchObject({ stored: 0 })
  expect(await host.export({ layout: 'long' })).toBe(
    [
      '\ufeff"time (ISO 8601, UTC)",probe,channel,value,unit',
      '2026-05-01T10:00:00Z,fern1,phmv,12.5,mV',
      '2026-05-01T10:00:00Z,fern1,st,20,Cel',
      '2026-05-01T10:10:00Z,fern1,phmv,12.6,mV',
      '2026-05-01T10:10:00Z,fern1,rssi,-60,dBm',
      '',
    ].join('\r\n'),
  )
})

test('names without a probe in them are of the probe that is said; a bad record is named', async () => {
  await using host = await transferHost()
  const text = `[{"bt":${T0},"n":"temperature","u":"Cel","v":20},{"n":"temperature","t":60,"v":null}]`
  const { map } = await guessMap(Buffer.from(text), 'UTC')
  expect(map).toMatchObject({ layout: 'senml', probe: { id: '' } })
  const said: ImportMap = {
    ...SENML,
    probe: { id: 'fern1' },
    channels: [{ column: 'temperature', channel: 'st', unit: '', senses: null }],
  }
  const { report } = await checkImport(fileOf(text), said, host.deps)
  expect(report.bad).toEqual([
    { line: 1, column: 'record 2, v', expected: 'a number', got: 'null' },
  ])
  expect(report.probes).toMatchObject([{ id: 'fern1', channels: [{ name: 'st', unit: 'Cel' }] }])
  const reserved = await checkImport(fileOf(`[{"n":"hub/st","t":${T0},"v":1}]`), SENML, host.deps)
  expect(reserved.report.bad).toMatchObject([{ column: 'record 1, n', got: 'hub' }])
  const late = `[{"n":"fern1/st","t":${NOW / 1000 + 90_000},"v":1}]`
  expect((await checkImport(fileOf(late), SENML, host.deps)).report.badCount).toBe(1)
})
