import { expect, test } from 'vitest'
import type { BedSeries } from '#hub/api/schemas/bed.ts'
import type { JobView } from '#hub/api/schemas/job.ts'
import type { StorageView, ThinningView } from '#hub/api/schemas/storage.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import type { Reading } from '#hub/model/reading.ts'
import { storageView } from '#hub/api/views/storage.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'
import { until } from '../../support/until.ts'

const NOW = Date.UTC(2026, 10, 20, 12)
/** Old enough, by half a year. */
const OLD = Date.UTC(2026, 4, 10)
const PROBE = 'kestrel1'

const over = (host: ApiHost, id: number): Promise<JobView> =>
  until('the job is over', async () => {
    const job = (await host.call('GET', `/api/jobs/${id}`)).body as JobView
    return job.endedAt === null ? undefined : job
  })

/** A bed whose probe read every minute on two days in May and one in November. */
async function bedOfMay(host: ApiHost): Promise<number> {
  const { garden, readings } = host.deps
  const bed = await garden.addBed(
    {
      name: 'Siskin',
      areaM2: 2,
      depthM: 0.3,
      texture: 'raised-bed mix',
      crops: ['tomato'],
      ownBand: null,
    },
    OLD,
  )
  const spot = await garden.addSpot(bed.id, 'middle')
  await garden.adoptProbe(PROBE, 'Kestrel', OLD)
  await garden.hear(
    [
      {
        id: PROBE,
        at: OLD,
        channels: [channel('phmv', 'ph.emf', 'mV'), channel('st', 'temp.soil', 'Cel')],
      },
    ],
    50,
  )
  await garden.placeProbe(PROBE, spot!.id, OLD)
  await garden.addCalibration(calibration(0))
  const all: Reading[] = []
  for (const day of [OLD, OLD + DAY, NOW - DAY]) {
    for (let i = 0; i < 1440; i++) {
      const at = day + i * MINUTE
      all.push({
        probe: PROBE,
        boot: 1,
        seq: all.length,
        uptimeS: Math.floor((at - OLD) / 1000),
        at,
        placedBy: 'arrival',
        arrivedAt: at,
        deviceAt: null,
        flags: 0,
        values: [
          { channel: 'phmv', value: 30 + ((i * 7919) % 160) / 10 },
          { channel: 'st', value: 25 },
        ],
      })
    }
  }
  await readings.append({ readings: all, anchors: [], marks: [], quarantined: [] })
  await readings.settle()
  return bed.id
}

const calibration = (offset: number) => ({
  kind: 'electrode' as const,
  probe: PROBE,
  channel: 'phmv',
  at: OLD - DAY,
  points: [
    { ph: 4, emfMv: 177.48 + offset },
    { ph: 7, emfMv: offset },
  ] as const,
  temperatureC: 25,
  note: '',
})

const channel = (name: string, senses: 'ph.emf' | 'temp.soil', unit: string) => ({
  name,
  senses,
  unit,
  low: null,
  high: null,
  resolution: null,
  depthM: 0.1,
  from: null,
  described: true,
})

test('how much there is, what would go, and that nothing goes without a word about a backup', async () => {
  await using host = await apiHost(NOW)
  await bedOfMay(host)
  const storage = (await host.call('GET', '/api/storage')).body as StorageView
  expect(storage).toMatchObject({
    retention: { rawMonths: null, decidedAt: null },
    readings: { kept: 3 * 1440, values: 2 * 3 * 1440, hours: 0, thinnedTo: null, shrinks: true },
    forecast: { status: 'insufficient', need: 7 },
  })
  // The file is mostly what every such file begins with.
  expect(storage.readings!.bytesPerReading).toBeNull()
  const would = (await host.call('GET', '/api/storage/thinning?months=3')).body as ThinningView
  expect(would).toMatchObject({ readings: 2 * 1440, hours: 2 * 24 * 2 })
  expect(would.savedBytes).toBe(would.bytes - would.hourBytes)
  expect(would.sentence).toMatch(/^2880 readings from before 20 August 2026 would become 96 hours/)
  expect(would.notes.join(' ')).toContain('still corrects them')

  for (const months of ['2', '601', '1.5', '']) {
    expect((await host.call('GET', `/api/storage/thinning?months=${months}`)).status).toBe(400)
  }
  const without = await host.call('PUT', '/api/storage/retention', { rawMonths: 3 })
  expect(without.status).toBe(400)
  expect(JSON.stringify(without.body)).toContain('that a backup was made')
  expect(await host.call('PUT', '/api/storage/retention', { rawMonths: 2 })).toMatchObject({
    status: 400,
  })
  for (let day = 9; day >= 0; day--) {
    await host.deps.garden.noteStorageDay({
      at: NOW - day * DAY,
      usedBytes: 1e9 - day * 1e6,
      freeBytes: 30e9 + day * 7e6,
      totalBytes: 64e9,
      readings: 1,
    })
  }
  const later = (await host.call('GET', '/api/storage')).body as StorageView
  expect(later.sentence).toContain('At 7 MB a day the disk is full about')

  // Raw for ever: there is nothing to thin.
  expect((await host.call('POST', '/api/storage/thin')).status).toBe(409)
  expect(await host.deps.garden.retention()).toMatchObject({ rawMonths: null })
})

test('a calibration corrected after the readings became hours still corrects them', async () => {
  await using host = await apiHost(NOW)
  const bed = await bedOfMay(host)
  const series = async (from: number, to: number): Promise<BedSeries> =>
    (await host.call('GET', `/api/beds/${bed}/series?quantity=ph&from=${from}&to=${to}&points=600`))
      .body as BedSeries
  const asHours = async (): Promise<BedSeries> => series(OLD, OLD + 5 * DAY)
  const before = await asHours()
  const set = await host.call('PUT', '/api/storage/retention', { rawMonths: 3, backup: true })
  expect(set.body).toMatchObject({ retention: { rawMonths: 3, decidedAt: NOW } })
  const begun = await host.call('POST', '/api/storage/thin')
  expect(begun.status).toBe(202)
  expect(await over(host, (begun.body as JobView).id)).toMatchObject({
    kind: 'thin',
    state: 'done',
    done: 2 * 1440,
  })
  const after = await asHours()
  expect(after.time).toEqual(before.time)
  const close = (now: BedSeries, then: BedSeries, shift: number): void =>
    then.value.forEach((value, i) => {
      if (value !== null) expect(now.value[i]).toBeCloseTo(value + shift, 6)
    })
  close(after, before, 0)
  // A day of it, where single readings were drawn before, is drawn by the hour now.
  const day = await series(OLD, OLD + DAY)
  expect(day.stepMs).toBe(HOUR)
  expect(day.value.filter((value) => value !== null).length).toBe(24)
  // The newest day is as it was.
  expect((await series(NOW - DAY, NOW)).stepMs).toBeLessThan(HOUR)

  // The buffers were read 5.916 mV too low: a tenth of a pH at the 59.16 mV of this electrode.
  const [old] = await host.deps.garden.calibrations(PROBE)
  await host.deps.garden.changeCalibration(old!.id, calibration(5.916))
  close(await asHours(), before, 0.1)
})

test('compacting gives back what is emptied; a second of a kind waits', async () => {
  await using host = await apiHost(NOW)
  await bedOfMay(host)
  await host.call('PUT', '/api/storage/retention', { rawMonths: 3, backup: true })
  const begun = await host.call('POST', '/api/storage/thin')
  await over(host, (begun.body as JobView).id)
  const compacted = await host.call('POST', '/api/storage/compact')
  expect(await over(host, (compacted.body as JobView).id)).toMatchObject({
    kind: 'compact',
    state: 'done',
  })
  const forEver = await host.call('PUT', '/api/storage/retention', { rawMonths: null })
  expect(forEver.body).toMatchObject({ retention: { rawMonths: null } })
  expect((forEver.body as StorageView).readings).toMatchObject({ hours: 96 })
})

test('bytes of a reading and of a value are told once there are enough to tell', () => {
  const size = {
    bytes: 5e6,
    emptyBytes: 1e6,
    readings: 100_000,
    values: 400_000,
    readingBytes: 2e6,
    hours: 0,
    hourBytes: 0,
    thinnedTo: null,
    shrinks: true,
  }
  const view = storageView({
    folderBytes: null,
    disk: null,
    size,
    retention: { rawMonths: null, decidedAt: null },
    days: [],
    now: NOW,
    zone: 'UTC',
  })
  expect(view.readings).toMatchObject({ bytesPerReading: 20, bytesPerValue: 5 })
})
