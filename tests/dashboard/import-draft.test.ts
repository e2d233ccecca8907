import { describe, expect, test } from 'vitest'
import type { FirstLookView } from '../../hub/api/schemas/transfer.ts'
import { importMap } from '../../hub/api/schemas/transfer.ts'
import { beginningOf, draftOf, mapOf, withNames } from '../../dashboard/src/import-draft.ts'

const COLUMNS = ['Zeit', 'Elektrode', 'Ort']
const ROWS = [
  ['01.05.2026 10:00', '12,5', 'north'],
  ['01.05.2026 10:10', '12,6', 'south'],
]
const LOOK: FirstLookView = {
  columns: COLUMNS,
  rows: ROWS,
  map: {
    layout: 'wide',
    delimiter: ';',
    decimal: ',',
    headings: true,
    time: { column: 'Zeit', format: 'day-first', zone: 'Europe/Lisbon' },
    probe: { id: '' },
    channels: [],
  },
}

describe('the mapping dialogue', () => {
  test('says what is still open, by field', () => {
    expect(mapOf(draftOf(LOOK, 'UTC')).errors.map(({ path }) => path)).toEqual([
      'probeId',
      'columns',
    ])
  })

  test('what is filled in is what the hub takes; an empty column is left out', () => {
    const draft = draftOf(LOOK, 'UTC')
    expect(draft.columns.map(({ column }) => column)).toEqual(['Elektrode', 'Ort'])
    const { map, errors } = mapOf({
      ...draft,
      probeId: ' fern1 ',
      columns: [
        { column: 'Elektrode', channel: ' phmv', unit: 'V', senses: '' },
        draft.columns[1]!,
      ],
    })
    expect(errors).toEqual([])
    expect(importMap.parse(map)).toEqual({
      ...LOOK.map,
      probe: { id: 'fern1' },
      channels: [{ column: 'Elektrode', channel: 'phmv', unit: 'V', senses: null }],
    })
  })

  test('a long table: names come from the channel column, what was said of them stays', () => {
    const long = withNames(
      { ...draftOf(LOOK, 'UTC'), layout: 'long', channelColumn: 'Ort', valueColumn: 'Elektrode' },
      COLUMNS,
      ROWS,
    )
    expect(long.columns.map(({ column }) => column)).toEqual(['north', 'south'])
    const said = { ...long, probeId: 'fern1', columns: [{ ...long.columns[0]!, channel: 'm1' }] }
    const again = withNames(said, COLUMNS, ROWS)
    expect(again.columns.map(({ channel }) => channel)).toEqual(['m1', ''])
    expect(importMap.parse(mapOf(again).map)).toMatchObject({
      layout: 'long',
      channelColumn: 'Ort',
      unitColumn: null,
      channels: [{ column: 'north', channel: 'm1' }],
    })
  })

  test('line protocol: a tag, or one probe', () => {
    const map = {
      layout: 'lines',
      precision: 'ms',
      probe: { column: 'probe' },
      channels: [],
    } as const
    const draft = draftOf({ columns: [], rows: [], map: { ...map, channels: [] } }, 'UTC')
    expect(mapOf(draft).map).toEqual(map)
    expect(mapOf({ ...draft, probeColumn: '' }).errors).toHaveLength(1)
  })

  test('SenML: ends of names become channels, the probe stands in the names or is said', () => {
    const map = { layout: 'senml', probe: { column: 'name' }, channels: [] } as const
    const look = { columns: ['phmv', 'temperature'], rows: [], map: { ...map, channels: [] } }
    const draft = draftOf(look, 'UTC')
    expect(draft.columns.map(({ column }) => column)).toEqual(['phmv', 'temperature'])
    expect(mapOf(draft).map).toEqual(map)
    const [first, second] = draft.columns
    const said = { ...draft, columns: [first!, { ...second!, channel: 'st', unit: 'K' }] }
    expect(importMap.parse(mapOf(said).map)).toMatchObject({
      channels: [{ column: 'temperature', channel: 'st', unit: 'K' }],
    })
    expect(mapOf({ ...draft, probeColumn: '' }).errors).toHaveLength(1)
    expect(mapOf({ ...draft, probeColumn: '', probeId: 'fern1' }).map).toMatchObject({
      probe: { id: 'fern1' },
    })
  })
})

test('the beginning of a file ends with a whole row', async () => {
  const file = new Blob(['first row\nsecond row\nthird'])
  expect(await (await beginningOf(file, 24)).text()).toBe('first row\nsecond row\n')
  expect((await beginningOf(file, 100)).size).toBe(file.size)
})

test('the beginning of an array of records is an array of whole records', async () => {
  const file = new Blob([JSON.stringify([{ n: 'a/st' }, { n: 'b/st' }, { n: 'c/st' }])])
  const text = await (await beginningOf(file, 34)).text()
  expect(JSON.parse(text)).toEqual([{ n: 'a/st' }, { n: 'b/st' }])
})
