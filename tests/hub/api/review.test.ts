import { parse } from 'csv-parse/sync'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { createServer } from '#hub/api/server.ts'
import {
  gardenReview,
  type GardenReview,
  seasonReport,
  type SeasonReportView,
} from '#hub/api/schemas/review.ts'
import { bandFor } from '#hub/analysis/band.ts'
import { study, type StudiedBed, studiedBed, type Study } from '#hub/analysis/study.ts'
import { DAY } from '#hub/model/clock.ts'
import type { NewJournalEntry } from '#hub/model/journal.ts'
import type { SpotDay } from '#hub/model/spot-day.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'
import { plantPlannedGarden, type PlannedGarden } from '../../support/planned-garden.ts'
import { seededRandom } from '../../support/random.ts'
import { until } from '../../support/until.ts'

/** Two years of days behind the garden; limed after the first. */
const NOW = Date.UTC(2029, 3, 1, 10)
const FIRST = Date.UTC(2027, 3, 1)
const LIMED = Date.UTC(2028, 2, 30, 22, 30)
const RISE = 0.8
const RISES_IN = 25
const PEAK = 90
const HALF_LIFE = 200
const NAME = '=HYPERLINK("http://elsewhere.example","Heron")'

/** As the simulated soil answers: up by an exponential, back by another. */
function risen(day: number): number {
  const days = (day - LIMED) / DAY
  if (days <= 5) return 0
  const up = RISE * (1 - Math.exp(-(days - 5) / RISES_IN))
  return days <= PEAK ? up : up * 2 ** (-(days - PEAK) / HALF_LIFE)
}

function daysOf(
  bedId: number,
  spots: readonly { id: number; probe: string }[],
  level: (day: number) => number,
): SpotDay[] {
  const random = seededRandom(bedId)
  const out: SpotDay[] = []
  for (let day = FIRST; day < NOW - DAY; day += DAY) {
    const wobble = 0.03 * (random() - 0.5)
    for (const [i, { id, probe }] of spots.entries()) {
      out.push({
        bedId,
        spotId: id,
        probe,
        day,
        ph: level(day) + 0.05 * (i - 1) + wobble + 0.06 * (random() - 0.5),
        hours: 24,
        moisture: 0.26,
        available: 0.6,
        temperatureC: 12 + 8 * Math.sin((2 * Math.PI * (day - FIRST)) / (365 * DAY)),
        apart: false,
      })
    }
  }
  return out
}

let host: ApiHost
let garden: PlannedGarden
let app: Awaited<ReturnType<typeof createServer>>
beforeAll(async () => {
  host = await apiHost(NOW)
  garden = await plantPlannedGarden(host.deps)
  const store = host.deps.garden
  const sour = (await store.bed(garden.sour))!
  await store.changeBed(garden.sour, { ...sour, name: NAME })
  await host.call('PUT', '/api/planning-settings', {
    season: null,
    currency: 'EUR',
    prices: [{ material: 'ground-limestone', perKg: 2 }],
  })
  const entry = (rest: Partial<NewJournalEntry>): NewJournalEntry => ({
    bedId: garden.sour,
    at: LIMED,
    kind: 'treatment',
    material: null,
    amountG: null,
    waterL: null,
    probe: null,
    ph: null,
    method: null,
    text: '',
    ...rest,
  })
  await store.addEntry(entry({ material: 'garden lime', amountG: 900 }))
  await store.addEntry(entry({ at: LIMED + 3 * DAY, kind: 'irrigation', waterL: 12.5 }))
  await store.addEntry(entry({ at: NOW - 40 * DAY, material: '-1+1|cmd, "tea"', amountG: null }))
  // The first look may have come before there was a bed.
  host.evaluation.touch()
  await until('looked at', () => host.evaluation.latest(garden.fine) !== null, 50_000)
  host.evaluation.hold()

  // The days as the watch would have left them, and the slow questions gone through by the real study.
  const journal = await store.journal({})
  const beds = [(await store.bed(garden.sour))!, (await store.bed(garden.fine))!]
  const studied: StudiedBed[] = []
  for (const bed of beds) {
    const spots = await store.spots(bed.id)
    const placed = await store.placements(bed.id)
    const days = daysOf(
      bed.id,
      placed.map(({ spotId, probe }) => ({ id: spots.find((s) => s.id === spotId)!.id, probe })),
      (day) => (bed.id === garden.sour ? 5.6 + risen(day) : 6.5),
    )
    await host.deps.memory.rememberWatch(bed.id, { from: null, states: [], days })
    studied.push(studiedBed(bed, days, journal))
  }
  const studies = new Map<number, Study>(
    studied.map((own) => [
      own.bed.id,
      study(
        own,
        studied.filter((other) => other !== own),
        {
          events: [],
          visits: new Map(),
          band: bandFor(own.bed).band,
          yearFrom: Date.UTC(2029, 0, 1),
        },
        NOW,
      ),
    ]),
  )
  app = await createServer(
    {
      ...host.deps,
      watch: {
        ...host.deps.watch,
        latest: (id) => {
          const seen = host.evaluation.latest(id)
          return seen === null ? null : { ...seen, study: studies.get(id) ?? null }
        },
      },
    },
    { dashboardDir: null, log: () => undefined },
  )
}, 60_000)
afterAll(async () => {
  await app.close()
  await host[Symbol.asyncDispose]()
})

async function get(url: string): Promise<{ body: string; headers: Record<string, unknown> }> {
  const answer = await app.inject({ method: 'GET', url })
  expect(answer.statusCode, answer.body).toBe(200)
  return { body: answer.body, headers: answer.headers }
}
async function reviewed(): Promise<GardenReview> {
  const { body } = await get('/api/review')
  expect(body).not.toMatch(/NaN|undefined|Infinity/)
  return gardenReview.parse(JSON.parse(body))
}
/** A table as another reader sees it. */
async function table(url: string): Promise<{ rows: Record<string, string>[]; text: string }> {
  const { body, headers } = await get(url)
  expect(headers['content-type']).toBe('text/csv; charset=utf-8')
  expect(headers['content-disposition']).toMatch(/^attachment; filename="[a-z0-9-]+\.csv"$/)
  expect(body.charCodeAt(0), 'a byte-order mark').toBe(0xfeff)
  // RFC 4180: lines end with CRLF, also the last.
  expect(body.endsWith('\r\n')).toBe(true)
  expect(body.replaceAll('\r\n', '')).not.toMatch(/[\r\n]/)
  return { rows: parse(body, { bom: true, columns: true }), text: body }
}

const FROM = Date.UTC(2028, 2, 1)
const TO = Temporal.PlainDate.from('2028-11-01').toZonedDateTime('Europe/Lisbon').epochMilliseconds
const PERIOD = `from=${FROM}&to=${TO}`

describe('the review', () => {
  test('tells what the lime did, for how much, and what comes next', async () => {
    const { at, beds, materials, plans } = await reviewed()
    expect(at).toBe(NOW)
    expect(plans).toEqual([])
    const [sour, fine] = beds as [(typeof beds)[0], (typeof beds)[0]]
    expect(fine.treatments).toEqual([])
    expect(sour.treatments).toHaveLength(2)
    const [lime, tea] = sour.treatments
    expect(lime).toMatchObject({ material: 'garden lime', amountG: 900, at: LIMED, worked: 'yes' })
    const { effect, phMonths, cost } = lime!
    expect(effect!.verdict).toBe('effect')
    expect(effect!.peak!.low).toBeLessThan(RISE)
    expect(effect!.peak!.high).toBeGreaterThan(0.6 * RISE)
    // The area under the curve that the days were made of.
    let area = 0
    for (let day = LIMED; day < NOW; day += DAY) area += risen(day) / (365.25 / 12)
    expect(phMonths!.low).toBeLessThan(area)
    expect(phMonths!.high).toBeGreaterThan(area)
    expect(cost!.currency).toBe('EUR')
    expect(cost!.value).toBeCloseTo((0.9 * 2) / phMonths!.value!, 6)
    expect(tea).toMatchObject({ amountG: null, cost: null, worked: 'no' })
    expect(sour.nextSentence).not.toBe('')
    expect(materials.rows.length).toBeGreaterThan(0)
  })

  test('is a table that no spreadsheet runs', async () => {
    const { rows } = await table('/api/review.csv')
    expect(rows).toHaveLength(2)
    const [lime, tea] = rows
    expect(lime).toMatchObject({
      bed: `'${NAME}`,
      // 22:30 UTC at the end of March is half past eleven in the garden.
      'put on': '2028-03-30T23:30+01:00',
      material: 'garden lime',
      'amount (g)': '900',
      currency: 'EUR',
      worked: 'yes',
    })
    const shown = (await reviewed()).beds[0]!.treatments[0]!
    expect(Number(lime!['highest effect (pH)'])).toBeCloseTo(shown.effect!.peak!.value!, 2)
    expect(Number(lime!['so far (pH months)'])).toBeCloseTo(shown.phMonths!.value!, 2)
    expect(tea).toMatchObject({ material: `'-1+1|cmd, "tea"`, 'amount (g)': '' })
    for (const heading of Object.keys(lime!)) expect(heading).not.toMatch(/^[=+\-@]/)
  })
})

describe('the report of a season', () => {
  const report = async (): Promise<SeasonReportView> =>
    seasonReport.parse(JSON.parse((await get(`/api/beds/${garden.sour}/report?${PERIOD}`)).body))

  test('goes by months of the garden', async () => {
    const of = await report()
    expect(of).toMatchObject({
      bed: NAME,
      from: FROM,
      to: TO,
      crops: ['Lettuce'],
      areaM2: 2,
      band: { low: 6, high: 7 },
    })
    expect(of.months.map(({ month }) => month)).toEqual(
      ['03', '04', '05', '06', '07', '08', '09', '10'].map((m) => `2028-${m}`),
    )
    expect(of.months[0]).toMatchObject({ days: 31, inBand: 0 })
    expect(of.months[0]!.median).toBeCloseTo(5.6, 1)
    const june = of.months.find(({ month }) => month === '2028-06')!
    const middle = 5.6 + risen(Date.UTC(2028, 5, 15))
    expect(june.median).toBeCloseTo(middle, 1)
    expect(june.lowest).toBeLessThan(middle)
    expect(june.highest).toBeGreaterThan(middle)
    expect(june.inBand).toBe(30)
    expect(of.months.find(({ month }) => month === '2028-04')!.waterL).toBe(12.5)
    // The same days that went in: mean over the days of July.
    const july = Array.from({ length: 31 }, (_, i) => Date.UTC(2028, 6, 1) + i * DAY)
    const warm = july.map((d) => 12 + 8 * Math.sin((2 * Math.PI * (d - FIRST)) / (365 * DAY)))
    expect(of.months.find(({ month }) => month === '2028-07')!.soilC).toBeCloseTo(
      warm.reduce((a, b) => a + b) / 31,
      6,
    )
    expect(of.change!.low).toBeGreaterThan(0)
    expect(of.review.treatments.map(({ material }) => material)).toEqual(['garden lime'])
    expect(of.course.time.length).toBeGreaterThan(240)
    expect(of.course.time[0]).toBeGreaterThanOrEqual(FROM)
    expect(of.course.time.at(-1)).toBeLessThan(TO)
    for (const [i, value] of of.course.value.entries()) {
      expect(of.course.low[i]).toBeLessThan(value!)
      expect(of.course.high[i]).toBeGreaterThan(value!)
    }
    expect(JSON.stringify(of)).not.toMatch(/NaN|undefined|Infinity/)
  })

  test('of the whole garden is the same beds, one after the other', async () => {
    const all = JSON.parse((await get(`/api/report?${PERIOD}`)).body) as SeasonReportView[]
    expect(all.map(({ bedId }) => bedId)).toEqual([garden.sour, garden.fine])
    expect(seasonReport.parse(all[0])).toEqual(await report())
    expect(all[1]!.inBandShare).toMatchObject({ value: 1 })
  })

  test('as a table has one row a month, with its first and last day', async () => {
    const one = await table(`/api/beds/${garden.sour}/report.csv?${PERIOD}`)
    expect(one.rows).toHaveLength(8)
    expect(one.rows[0]).toMatchObject({
      bed: `'${NAME}`,
      'first day': '2028-03-01',
      'last day': '2028-10-31',
      month: '2028-03',
      treatments: 'garden lime 900 g',
      'band low (pH)': '6',
    })
    const of = await report()
    expect(Number(one.rows[3]!['median (pH)'])).toBeCloseTo(of.months[3]!.median!, 2)
    const all = await table(`/api/report.csv?${PERIOD}`)
    expect(all.rows).toHaveLength(16)
    expect(all.rows.slice(0, 8)).toEqual(one.rows)
  })

  test('of a period without days says so, and of one that is none is refused', async () => {
    const before = `from=${Date.UTC(2020, 0, 1)}&to=${Date.UTC(2020, 2, 1)}`
    const empty = seasonReport.parse(
      JSON.parse((await get(`/api/beds/${garden.sour}/report?${before}`)).body),
    )
    expect(empty.months.map(({ days, median }) => [days, median])).toEqual([
      [0, null],
      [0, null],
    ])
    expect(empty.course.time).toEqual([])
    const ahead = `from=${NOW + 30 * DAY}&to=${NOW + 60 * DAY}`
    expect((await app.inject({ url: `/api/report?${ahead}` })).statusCode).toBe(200)
    for (const [query, path] of [
      [`from=${TO}&to=${FROM}`, 'to'],
      [`from=${TO}&to=${TO}`, 'to'],
      [`from=0&to=${NOW}`, 'from'],
      [`to=${NOW}`, 'from'],
      [`from=yesterday&to=${NOW}`, 'from'],
    ]) {
      for (const url of ['/api/report', '/api/report.csv', `/api/beds/${garden.sour}/report`]) {
        const answer = await app.inject({ url: `${url}?${query}` })
        expect(answer.statusCode, `${url}?${query}`).toBe(400)
        expect(answer.headers['content-type']).toContain('application/problem+json')
        expect(answer.json<{ errors: { path: string }[] }>().errors[0]!.path).toBe(path)
      }
    }
    expect((await app.inject({ url: `/api/beds/999/report?${PERIOD}` })).statusCode).toBe(404)
    expect((await app.inject({ url: `/api/beds/999/report.csv?${PERIOD}` })).statusCode).toBe(404)
  })
})

test('a garden nobody has looked at yet is answered too', async () => {
  await using fresh = await apiHost(NOW)
  await plantPlannedGarden(fresh.deps)
  const review = gardenReview.parse((await fresh.call('GET', '/api/review')).body)
  expect(review.beds.map(({ treatments }) => treatments)).toEqual([[], []])
  const report = (await fresh.call('GET', `/api/report?${PERIOD}`)).body as SeasonReportView[]
  expect(report.map(({ band }) => band)).toEqual([
    { low: 6, high: 7 },
    { low: 6, high: 7 },
  ])
  const csv = await fresh.app.inject({ url: '/api/review.csv' })
  expect(parse(csv.body, { bom: true })).toHaveLength(1)
})
