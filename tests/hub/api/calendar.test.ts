import ICAL from 'ical.js'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { DAY } from '#hub/model/clock.ts'
import type { NewPlan } from '#hub/model/plan.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'

/** Evening in Europe, tomorrow morning in the garden. */
const NOW = Date.UTC(2027, 4, 10, 20)
const ZONE = 'Pacific/Auckland'
const NAME = 'Peas, beans; "and" \\ herbs 🌱 in the long bed behind the shed of the weir keeper'

let host: ApiHost
let bed = 0
beforeEach(async () => {
  host = await apiHost(NOW)
  const { garden } = host.deps
  await garden.setGarden({
    name: 'Tidewater, lower garden',
    zone: ZONE,
    units: 'metric',
    language: 'en',
  })
  bed = (
    await garden.addBed(
      { name: NAME, areaM2: 2, depthM: 0.2, texture: 'loam', crops: ['lettuce'], ownBand: null },
      NOW - 100 * DAY,
    )
  ).id
})
afterEach(async () => {
  await host[Symbol.asyncDispose]()
})

/** First moment of a day of the garden. */
const day = (text: string): number =>
  Temporal.PlainDate.from(text).toZonedDateTime(ZONE).epochMilliseconds
const stage = (due: string): NewPlan['stages'][number] => ({
  dueAt: day(due),
  amountG: 300,
  change: { low: 0.2, typical: 0.35, high: 0.6 },
  fullFrom: day(due) + 86 * DAY,
  fullBy: day(due) + 365 * DAY,
  retestsAt: [day(due) + 90 * DAY],
  entryId: null,
})
const plan = (): NewPlan => ({
  bedId: bed,
  material: 'ground-limestone',
  strength: 0.9,
  fromPh: 5.4,
  targetPh: 6.2,
  buffering: { low: 400, typical: 550, high: 740 },
  basis: 'By its texture.',
  stages: [stage('2027-10-05'), stage('2028-04-20')],
})

const parsed = (text: string) => new ICAL.Component(ICAL.parse(text) as unknown[])

async function feed(): Promise<{ text: string; events: ICAL.Event[] }> {
  const answer = await host.app.inject({ method: 'GET', url: '/api/calendar.ics' })
  expect(answer.statusCode, answer.body).toBe(200)
  expect(answer.headers['content-type']).toBe('text/calendar; charset=utf-8')
  const root = parsed(answer.body)
  expect(root.name).toBe('vcalendar')
  expect(root.getFirstPropertyValue('version')).toBe('2.0')
  expect(root.getFirstPropertyValue('prodid')).toContain('Loamline')
  const events = root.getAllSubcomponents('vevent').map((one) => new ICAL.Event(one))
  return { text: answer.body, events }
}
const shown = (events: readonly ICAL.Event[]): string[] =>
  events.map((e) => `${e.startDate.toString()} ${e.summary}`)

test('an empty garden is an empty calendar with its name', async () => {
  const { text, events } = await feed()
  expect(events).toEqual([])
  const root = parsed(text)
  expect(root.getFirstPropertyValue('x-wr-calname')).toBe('Tidewater, lower garden')
})

test('portions and re-tests are whole days of the garden, their words unharmed', async () => {
  const { garden } = host.deps
  const kept = (await garden.addPlan(plan(), NOW))!
  const ahead = await feed()
  expect(shown(ahead.events)).toEqual([
    `2027-10-05 ${NAME}: 300 g ground limestone`,
    `2028-04-20 ${NAME}: 300 g ground limestone`,
  ])
  for (const event of ahead.events) {
    expect(event.startDate.isDate).toBe(true)
    expect(event.duration.toSeconds()).toBe(86_400)
    expect(event.description).toMatch(/product label and your local extension service/)
    expect(event.component.getFirstPropertyValue('transp')).toBe('TRANSPARENT')
    const stamp = event.component.getFirstPropertyValue('dtstamp') as ICAL.Time
    expect(stamp.toJSDate().getTime()).toBe(NOW)
  }
  // RFC 5545, 3.1: lines of at most 75 octets, CRLF between them.
  for (const line of ahead.text.split('\r\n')) {
    expect(Buffer.byteLength(line)).toBeLessThanOrEqual(75)
    expect(line).not.toMatch(/[\r\n]/)
    expect(line).not.toMatch(/^X-(?!WR-CALNAME|PUBLISHED-TTL)/)
  }

  const doneAt = day('2027-10-08') + 9 * 3_600_000
  host.setTime(doneAt)
  await garden.doStage(kept.id, 0, {
    bedId: bed,
    at: doneAt,
    kind: 'treatment',
    material: 'ground limestone',
    amountG: 300,
    waterL: null,
    probe: null,
    ph: null,
    method: null,
    text: '',
  })
  const after = await feed()
  // The days follow when it really went on, not when it should have.
  expect(shown(after.events)[0]).toBe(`2028-01-06 ${NAME}: measure again`)
  expect(after.events[1]!.summary).toContain('ground limestone')
})

test('the same thing keeps its UID, and two things never share one', async () => {
  const { garden } = host.deps
  await garden.addPlan(plan(), NOW)
  const first = await feed()
  host.setTime(NOW + 3 * DAY)
  const later = await feed()
  const uids = first.events.map(({ uid }) => uid)
  expect(later.events.map(({ uid }) => uid)).toEqual(uids)
  expect(new Set(uids).size).toBe(uids.length)
  const stamp = later.events[0]!.component.getFirstPropertyValue('dtstamp') as ICAL.Time
  expect(stamp.toJSDate().getTime()).toBe(NOW + 3 * DAY)
  // Another hub numbers its plans alike.
  await using other = await apiHost(NOW)
  const twin = await other.deps.garden.addBed(
    { name: 'b', areaM2: 2, depthM: 0.2, texture: 'loam', crops: ['lettuce'], ownBand: null },
    NOW - 99 * DAY,
  )
  await other.deps.garden.addPlan({ ...plan(), bedId: twin.id }, NOW)
  const { body } = await other.app.inject({ method: 'GET', url: '/api/calendar.ics' })
  const root = parsed(body)
  const others = root.getAllSubcomponents('vevent').map((one) => new ICAL.Event(one).uid)
  expect(others).toHaveLength(2)
  expect(others.filter((uid) => uids.includes(uid))).toEqual([])
})

test('what ended is no longer in it: a closed plan, a bed out of use', async () => {
  const { garden } = host.deps
  const kept = (await garden.addPlan(plan(), NOW))!
  expect((await feed()).events).toHaveLength(2)
  await host.call('POST', `/api/plans/${kept.id}/close`, { ending: 'given up' })
  expect((await feed()).events).toEqual([])
  await garden.addPlan(plan(), NOW)
  expect((await feed()).events).toHaveLength(2)
  await host.call('DELETE', `/api/beds/${bed}`)
  expect((await feed()).events).toEqual([])
})

test('the end of a trial is in it until it has come; one given up is not', async () => {
  const { garden } = host.deps
  const untreated = await garden.addBed(
    { name: 'Moss bed', areaM2: 2, depthM: 0.2, texture: 'loam', crops: [], ownBand: null },
    NOW,
  )
  const trial = (claim: string, startsAt: number) =>
    garden.addTrial(
      {
        claim,
        direction: 'lowers',
        material: 'coffee grounds',
        leastEffect: 0.2,
        treated: [bed],
        untreated: [untreated.id],
        startsAt,
        days: 120,
      },
      NOW,
    )
  await trial('Coffee grounds,\nsays the neighbour, make soil sour', NOW - 20 * DAY)
  await trial('long over', NOW - 300 * DAY)
  const given = await trial('given up', NOW)
  await garden.giveUpTrial(given.id, NOW)
  const { events } = await feed()
  expect(shown(events)).toEqual([
    '2027-08-19 Trial ends: Coffee grounds,\nsays the neighbour, make soil sour',
  ])
  host.setTime(NOW + 101 * DAY)
  expect((await feed()).events).toEqual([])
})
