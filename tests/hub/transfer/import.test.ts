import { expect, test } from 'vitest'
import { startEvaluation } from '#hub/evaluation/start-evaluation.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import type { Reading } from '#hub/model/reading.ts'
import { checkImport } from '#hub/transfer/check-import.ts'
import { nameOf } from '#hub/transfer/file-reading.ts'
import type { ImportMap } from '#hub/transfer/import-map.ts'
import { storeImport } from '#hub/transfer/store-import.ts'
import { until } from '../../support/until.ts'
import { fileOf, NOW, transferHost, WIDE } from './transfer-host.ts'

const T0 = Date.parse('2026-05-01T10:00:00Z')
const FILE = [
  'time,mv,soil',
  '2026-05-01T10:00,12.5,68',
  '2026-05-01T10:10,12.6,',
  '2026-05-01T10:20,,',
  '2026-05-01T10:30,nan,68',
].join('\n')

const raw = (probe: string, channel: string) =>
  ({ probe, channel, from: 0, to: NOW, step: 'raw' }) as const
const live = (change: Partial<Reading>): Reading => ({
  probe: 'fern1',
  boot: 7,
  seq: 0,
  uptimeS: 1,
  at: T0,
  placedBy: 'arrival',
  arrivedAt: T0,
  deviceAt: null,
  flags: 0,
  values: [{ channel: 'phmv', value: 12.5 }],
  ...change,
})

test('a table is stored as it reads; twice changes nothing', async () => {
  await using host = await transferHost()
  const { readings, garden } = host.stores
  const first = await storeImport(fileOf(FILE), WIDE, host.deps)
  expect(first).toMatchObject({
    stored: 3,
    from: T0,
    report: { rows: 4, empty: 1, readings: 3, present: 0, badCount: 0 },
  })
  const before = await readings.counts()
  const again = await storeImport(fileOf(FILE), WIDE, host.deps)
  expect(again).toMatchObject({ stored: 0, from: null, report: { present: 3 } })
  expect(await readings.counts()).toEqual(before)

  const [phmv, st] = await readings.buckets([raw('fern1', 'phmv'), raw('fern1', 'st')])
  expect([...phmv!.time]).toEqual([T0, T0 + 600_000, T0 + 1_800_000])
  expect([...phmv!.mean]).toEqual([12.5, 12.6, NaN])
  expect([...st!.mean]).toEqual([20, 20])
  expect(await garden.probe('fern1')).toMatchObject({
    adoptedAt: NOW,
    firstSeenAt: T0,
    lastSeenAt: T0 + 1_800_000,
  })
  expect((await garden.channels('fern1')).map((c) => [c.name, c.senses, c.unit])).toEqual([
    ['phmv', 'ph.emf', 'mV'],
    ['st', 'temp.soil', 'Cel'],
  ])
})

test('one bad row and nothing of the file is stored; each says what was expected and what came', async () => {
  await using host = await transferHost()
  const bad = [
    'time,mv,soil',
    '2026-05-01T10:00,12.5,68',
    '2026-05-01T25:00,12.5,68',
    '2026-05-01T10:10,wet,68',
    '1970-01-20T10:10,12.5,68',
    '2026-05-01T10:00,12.7,68',
    '2027-05-01T10:00,12.7,68',
  ].join('\n')
  const { report, stored } = await storeImport(fileOf(bad), WIDE, host.deps)
  expect(stored).toBeNull()
  expect(report.bad.map((row) => [row.line, row.column, row.got])).toEqual([
    [3, 'time', '2026-05-01T25:00'],
    [4, 'mv', 'wet'],
    [5, 'time', '1970-01-20T10:10:00.000Z'],
    [6, null, '12.7'],
    [7, 'time', '2027-05-01T10:00:00.000Z'],
  ])
  expect(report.bad[3]!.expected).toContain('line 2: 12.5')
  expect(await host.stores.readings.counts()).toMatchObject({ readings: 0, quarantined: 0 })
  expect(await host.stores.garden.probes()).toEqual([])
})

test('a value that contradicts what is stored is refused; what is stored already is not stored twice', async () => {
  await using host = await transferHost()
  const { readings } = host.stores
  await readings.append({ readings: [live({})], anchors: [], marks: [], quarantined: [] })
  const other = await storeImport(fileOf('time,mv,soil\n2026-05-01T10:00,13,68'), WIDE, host.deps)
  expect(other.stored).toBeNull()
  expect(other.report.bad[0]!.expected).toMatch(/stored for 2026-05-01T10:00:00.000Z \(12.5\)/)

  // The same moment as a live reading, with a channel the live one lacks.
  const more = await storeImport(fileOf(FILE), WIDE, host.deps)
  expect(more).toMatchObject({ stored: 3, report: { present: 0 } })
  const before = await readings.counts()
  expect(await storeImport(fileOf(FILE), WIDE, host.deps)).toMatchObject({ stored: 0 })
  expect(await readings.counts()).toEqual(before)
  const [phmv, st] = await readings.buckets([raw('fern1', 'phmv'), raw('fern1', 'st')])
  expect([...phmv!.mean]).toEqual([12.5, 12.6, NaN])
  expect([...st!.mean]).toEqual([20, 20])
  expect(before).toMatchObject({ readings: 4, quarantined: 0 })
})

test('numbers out of files never meet those of a probe', () => {
  for (const at of [T0, T0 + 1, Date.UTC(2000, 0, 1), NOW]) {
    const reading = { probe: 'fern1', at, values: [{ channel: 'phmv', value: 1 }] }
    const { boot, seq } = nameOf(reading)
    expect(boot).toBeGreaterThan(0xffffffff)
    expect(Number.isSafeInteger(boot)).toBe(true)
    expect(seq).toBeLessThanOrEqual(0xffffffff)
    // Neither the value nor the order of channels is part of the name.
    expect(nameOf({ ...reading, values: [{ channel: 'phmv', value: 2 }] })).toEqual({ boot, seq })
    const two = [...reading.values, { channel: 'm1', value: 1 }]
    expect(nameOf({ ...reading, values: two })).toEqual(
      nameOf({ ...reading, values: two.toReversed() }),
    )
    expect(nameOf({ ...reading, values: two })).not.toEqual({ boot, seq })
  }
})

test('a long table: units by row, several probes, names of its own', async () => {
  await using host = await transferHost()
  const map: ImportMap = {
    layout: 'long',
    delimiter: ';',
    decimal: ',',
    headings: true,
    time: { column: 'when', format: 'seconds', zone: 'UTC' },
    probe: { column: 'who' },
    channelColumn: 'what',
    valueColumn: 'value',
    unitColumn: 'unit',
    channels: [{ column: 'Battery', channel: 'bat', unit: '', senses: null }],
  }
  const s = T0 / 1000
  const text = [
    'when;who;what;value;unit',
    `${s};fern1;phmv;0,0125;V`,
    `${s};fern1;Battery;3700;mV`,
    `${s};oak1;phmv;;mV`,
    `${s};fern1;phmv;12,5;mV`,
  ].join('\n')
  const { stored, report } = await storeImport(fileOf(text), map, host.deps)
  expect(report.bad).toEqual([])
  expect(stored).toBe(2)
  expect(await host.export({ layout: 'long' })).toBe(
    [
      '\uFEFF"time (ISO 8601, UTC)",probe,channel,value,unit',
      '2026-05-01T10:00:00Z,fern1,bat,3.7,V',
      '2026-05-01T10:00:00Z,fern1,phmv,12.5,mV',
      '2026-05-01T10:00:00Z,oak1,phmv,,mV',
      '',
    ].join('\r\n'),
  )
  const wrong = text.replace('3700;mV', '20;°C').replace('oak1', 'Oak 1')
  const { report: refused } = await checkImport(fileOf(wrong), map, host.deps)
  expect(refused.bad.map((row) => row.expected)).toEqual([
    expect.stringMatching(/a unit that bat of fern1 can be read from \(V, mV\), not °C/),
    expect.stringMatching(/the id of a probe/),
  ])
})

test('line protocol: whole and broken numbers, fields of the right kind, times of every precision', async () => {
  await using host = await transferHost()
  const map: ImportMap = {
    layout: 'lines',
    precision: 's',
    probe: { column: 'probe' },
    channels: [],
  }
  const s = T0 / 1000
  const text = `# from a logger\nsoil,probe=fern1 phmv=12.5,m1=1800i ${s}\n\nsoil,probe=fern1 m1=1801u ${s + 60}\n`
  expect(await storeImport(fileOf(text), map, host.deps)).toMatchObject({ stored: 2 })
  expect(await host.export({ layout: 'lines' })).toBe(
    `reading,probe=fern1 m1=1800,phmv=12.5 ${s}000000000\nreading,probe=fern1 m1=1801 ${s + 60}000000000\n`,
  )
  const bad = [
    `soil phmv=1 ${s}`,
    `soil,probe=fern1 phmv="x" ${s}`,
    `soil,probe=fern1 phmv=1`,
    `soil,probe=fern1 m1=9007199254740993i ${s}`,
    `soil,probe=fern1 ${s}`,
    `soil,probe=fern1 phmv=1 ${s}000`,
  ].join('\n')
  const { report } = await checkImport(fileOf(bad), map, host.deps)
  expect(report.bad.map(({ line }) => line)).toEqual([1, 2, 3, 4, 5, 6])
})

test('a file that is no table is refused where it breaks', async () => {
  await using host = await transferHost()
  const open = await checkImport(fileOf('time,mv,soil\n"2026-05-01T10:00,1,2'), WIDE, host.deps)
  expect(open.report).toMatchObject({ badCount: 1, bad: [{ expected: 'a table' }] })
  const columns = await checkImport(fileOf('when,mv,soil\n1,2,3'), WIDE, host.deps)
  expect(columns.report.bad).toEqual([
    { line: 1, column: 'time', expected: "a column 'time'", got: 'when, mv, soil' },
  ])
  const zeros = await checkImport(fileOf('time,mv,soil\n\0\0,1,2'), WIDE, host.deps)
  expect(zeros.report.badCount).toBe(1)
})

test('more channels than a probe may have are refused', async () => {
  await using host = await transferHost()
  const names = Array.from({ length: 17 }, (_, i) => `c${i}`)
  const map: ImportMap = {
    ...(WIDE as Extract<ImportMap, { layout: 'wide' }>),
    channels: names.map((name) => ({ column: name, channel: name, unit: '', senses: null })),
  }
  const text = `time,${names.join(',')}\n2026-05-01T10:00,${names.map(() => '1').join(',')}`
  const { report } = await checkImport(fileOf(text), map, host.deps)
  expect(report.bad).toMatchObject([
    { column: 'c16', expected: 'at most 16 channels of one probe' },
  ])
})

test('a long file is told of while it is looked at, and comes in as one', async () => {
  await using host = await transferHost()
  const rows = Array.from(
    { length: 20_001 },
    (_, i) => `${new Date(T0 - i * 60_000).toISOString()},${i % 100},68`,
  )
  const told: number[] = []
  const text = ['time,mv,soil', ...rows].join('\n')
  const outcome = await storeImport(fileOf(text, 65_536), WIDE, host.deps, {
    told: (n) => told.push(n),
  })
  expect(outcome.stored).toBe(20_001)
  expect(told).toEqual([5000, 10_000, 15_000, 20_000])
  expect(await host.stores.readings.counts()).toMatchObject({ readings: 20_001, duplicates: 0 })
})

test('a bed is gone through again from the first reading that came in', async () => {
  await using host = await transferHost()
  const { garden, readings, memory } = host.stores
  const start = NOW - 4 * DAY
  const rows = Array.from(
    { length: 72 },
    (_, i) => `${new Date(start + i * HOUR).toISOString()},2,68`,
  )
  const bed = await garden.addBed(
    {
      name: 'Fern bed',
      areaM2: 2,
      depthM: 0.3,
      texture: 'loam',
      crops: ['lettuce'],
      ownBand: null,
    },
    start - DAY,
  )
  const spot = await garden.addSpot(bed.id, 'north')
  await storeImport(fileOf(['time,mv,soil', ...rows.slice(48)].join('\n')), WIDE, host.deps)
  await garden.placeProbe('fern1', spot!.id, start - DAY)
  const evaluation = startEvaluation({
    ...host.stores,
    clock: () => NOW,
    restMs: 0,
    onAssessed: () => {},
    onAlarms: () => {},
    onFatal: (error) => {
      throw error
    },
  })
  const off = readings.onSettled(({ probes, from }) => evaluation.touchProbes(probes, from))
  try {
    const daysFrom = async () => (await memory.spotDays(bed.id, 0, NOW))[0]?.day
    await until('the late part is taken in', async () =>
      (await daysFrom()) === Math.floor((start + 48 * HOUR) / DAY) * DAY ? true : undefined,
    )
    await storeImport(fileOf(['time,mv,soil', ...rows].join('\n')), WIDE, host.deps)
    await until('so is what came in before it', async () =>
      (await daysFrom()) === Math.floor(start / DAY) * DAY ? true : undefined,
    )
  } finally {
    off()
    await evaluation.stop()
  }
})

test('a file cannot count readings twice that have become hours', async () => {
  await using host = await transferHost()
  const { readings } = host.stores
  const minutes = (from: number, days: number): { at: number; mv: number }[] =>
    Array.from({ length: days * 1440 }, (_, i) => ({
      at: from + i * 60_000,
      mv: ((i * i) % 977) / 10,
    }))
  const table = (rows: readonly { at: number; mv: number }[]): string =>
    ['time,mv,soil', ...rows.map(({ at, mv }) => `${new Date(at).toISOString()},${mv},68`)].join(
      '\n',
    )
  // The first day by a file, the next two live.
  const first = table(minutes(T0, 1).filter(({ at }) => at < T0 + 14 * HOUR))
  await storeImport(fileOf(first, 4096), WIDE, host.deps)
  const own = minutes(T0 + DAY, 2).map(({ at, mv }, seq) =>
    live({ seq, at, arrivedAt: at, uptimeS: seq * 60, values: [{ channel: 'phmv', value: mv }] }),
  )
  await readings.append({ readings: own, anchors: [], marks: [], quarantined: [] })
  await readings.settle()
  const cut = Math.floor(T0 / DAY) * DAY + 2 * DAY
  expect((await readings.upkeep!.thin(cut)).days).toBe(2)

  // The same file again: its readings are known by name.
  const again = await storeImport(fileOf(first, 4096), WIDE, host.deps)
  expect(again).toMatchObject({ stored: 0, report: { present: 14 * 60, badCount: 0 } })
  // What the probe sent by itself, out of an export of before: it would count once more.
  const exported = table([{ at: T0 + DAY + HOUR, mv: 9.5 }])
  const refused = await storeImport(fileOf(exported, 4096), WIDE, host.deps)
  expect(refused).toMatchObject({ stored: null, report: { badCount: 1 } })
  expect(refused.report.bad[0]!.expected).toContain('have become an hour, and this one may be')
  // Hours in which nothing was are open.
  const night = table([{ at: T0 + 20 * HOUR, mv: 9.5 }])
  expect(await storeImport(fileOf(night, 4096), WIDE, host.deps)).toMatchObject({ stored: 1 })
  expect(await storeImport(fileOf(night, 4096), WIDE, host.deps)).toMatchObject({ stored: 0 })
})
