import { expect, test } from 'vitest'
import { DAY } from '#hub/model/clock.ts'
import type { Reading } from '#hub/model/reading.ts'
import { guessMap } from '#hub/transfer/guess-map.ts'
import { recordTable } from '#hub/transfer/record-tables.ts'
import { storeImport } from '#hub/transfer/store-import.ts'
import { seededRandom } from '../../support/random.ts'
import { fileOf, NOW, transferHost } from './transfer-host.ts'
import type { TransferHost } from './transfer-host.ts'

/** Two probes, a channel with a spread, failures, odd milliseconds, more than one stretch. */
async function fill(host: TransferHost, count: number): Promise<void> {
  const random = seededRandom(5)
  const { readings, garden } = host.stores
  const made: Reading[] = []
  for (let i = 0; i < count; i++) {
    for (const probe of ['fern1', 'oak1']) {
      const values = [
        { channel: 'phmv', value: random() < 0.02 ? NaN : Math.round(random() * 4000) / 10 - 200 },
        { channel: 'phmv.s', value: random() },
        ...(random() < 0.5 ? [{ channel: 'm1', value: Math.round(random() * 4000) }] : []),
      ]
      const at = NOW - 90 * DAY + i * 300_000 + Math.floor(random() * 1000)
      made.push({
        probe,
        boot: 3,
        seq: i,
        uptimeS: i,
        at,
        placedBy: 'device',
        arrivedAt: at,
        deviceAt: at,
        flags: 0,
        values,
      })
    }
  }
  await readings.append({ readings: made, anchors: [], marks: [], quarantined: [] })
  for (const id of ['fern1', 'oak1']) {
    const channel = { low: null, high: null, resolution: null, depthM: null, from: null }
    const channels = [
      { ...channel, name: 'phmv', senses: 'ph.emf', unit: 'mV', described: true },
      { ...channel, name: 'm1', senses: 'moist.raw', unit: 'count', described: true },
    ] as const
    await garden.hear([{ id, at: NOW, channels }], 10)
  }
}

test.each(['wide', 'long', 'lines'] as const)(
  'what goes out as %s comes in again: into the same hub nothing, into another all',
  async (layout) => {
    await using one = await transferHost()
    await fill(one, 1500)
    const text = await one.export({ layout, zone: layout === 'wide' ? 'Europe/Lisbon' : 'UTC' })
    // The beginning alone says how it is to be read.
    const { map } = await guessMap(Buffer.from(text).subarray(0, 20_000), 'Asia/Tokyo')
    const before = await one.stores.readings.counts()
    const same = await storeImport(fileOf(text, 8192), map, one.deps)
    expect(same.report.bad).toEqual([])
    expect(same).toMatchObject({ stored: 0 })
    expect(await one.stores.readings.counts()).toEqual(before)

    await using two = await transferHost()
    const other = await storeImport(fileOf(text, 8192), map, two.deps)
    expect(other.report.bad).toEqual([])
    expect(other.stored).toBe(3000)
    expect(await two.export({ layout })).toBe(await one.export({ layout }))
  },
  60_000,
)

test('a long export comes in pieces, not as one', async () => {
  await using host = await transferHost()
  await fill(host, 12_000)
  const { exportReadings } = await import('#hub/transfer/export-readings.ts')
  const asked = { probes: ['fern1'], channels: ['phmv'], from: 0, to: NOW, zone: 'UTC' } as const
  const pieces = await Array.fromAsync(
    exportReadings(host.stores, { ...asked, step: 'raw', layout: 'long' }),
  )
  // Of the channel and its spread, up to a day more than asked for at a time.
  for (const piece of pieces) expect(piece.split('\r\n').length).toBeLessThan(2 * (5000 + 288))
  const text = pieces.join('')
  expect(text.split('\r\n')).toHaveLength(2 + 2 * 12_000)
  expect(text).not.toContain('m1')
}, 60_000)

test('a period is cut to the millisecond; hours have least, mean, most, median and how many', async () => {
  await using host = await transferHost()
  await fill(host, 40)
  const rows = (await host.export({ layout: 'lines', probes: ['oak1'] })).trimEnd().split('\n')
  const at = (row: string): number => Number(row.split(' ').at(-1)!.slice(0, -6))
  const [from, to] = [at(rows[10]!), at(rows[20]!)]
  const part = await host.export({ layout: 'lines', probes: ['oak1'], from, to })
  expect(part.trimEnd().split('\n')).toEqual(rows.slice(10, 20))

  const hours = await host.export({ step: 'hour', probes: ['oak1'], channels: ['m1'] })
  const [head, ...lines] = hours.trimEnd().split('\r\n')
  expect(head).toBe(
    '\uFEFF"time (ISO 8601, UTC)",probe,m1 mean (count),m1 min (count),m1 max (count),m1 median (count),m1 readings (count)',
  )
  for (const line of lines) {
    const [time, , mean, min, max, median, n] = line.split(',')
    expect(time).toMatch(/T\d\d:00:00Z$/)
    expect(Number(min)).toBeLessThanOrEqual(Number(median))
    expect(Number(mean)).toBeLessThanOrEqual(Number(max))
    expect(Number(n)).toBeGreaterThan(0)
  }
})

test('records: a text that a spreadsheet would run is marked as text, times carry the offset', async () => {
  await using host = await transferHost()
  const { garden } = host.stores
  const bed = await garden.addBed(
    { name: '=1+1', areaM2: 2, depthM: 0.3, texture: 'loam', crops: [], ownBand: null },
    NOW,
  )
  await garden.addEntry({
    bedId: bed.id,
    at: NOW,
    kind: 'note',
    material: null,
    amountG: null,
    waterL: null,
    probe: null,
    ph: null,
    method: null,
    text: '@SUM(A1), "quoted"\nsecond line',
  })
  expect(await recordTable(garden, 'journal')).toBe(
    '\uFEFFtime (ISO 8601),bed,kind,material,amount on the bed (g),water on the bed (L),probe,pH,method,text\r\n' +
      '2026-06-01T13:00:00+01:00,\'=1+1,note,,,,,,,"\'@SUM(A1), ""quoted""\nsecond line"\r\n',
  )
  expect(await recordTable(garden, 'beds')).toContain("\r\n'=1+1,2,0.3,loam,")
})
