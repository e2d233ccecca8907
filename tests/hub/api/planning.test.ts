import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { bedFacts } from '#hub/api/planning-facts.ts'
import type { BedView } from '#hub/api/schemas/bed.ts'
import type { Problem } from '#hub/api/schemas/common.ts'
import type { Entry } from '#hub/api/schemas/journal.ts'
import {
  decision as decisionSchema,
  draftAnswer,
  planningSettings,
  planView,
  soilTestView,
  type Decision,
  type PlanView,
} from '#hub/api/schemas/planning.ts'
import { DAY, MINUTE } from '#hub/model/clock.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'
import {
  DECIDED_AT,
  goneThrough,
  plantPlannedGarden,
  type PlannedGarden,
  readPlannedGarden,
} from '../../support/planned-garden.ts'

let host: ApiHost
let garden: PlannedGarden
beforeAll(async () => {
  host = await apiHost(DECIDED_AT)
  garden = await plantPlannedGarden(host.deps)
  await readPlannedGarden(host.deps)
  await goneThrough(host.deps, [garden.sour, garden.fine])
}, 60_000)
afterAll(async () => {
  await host[Symbol.asyncDispose]()
})

const lime = { material: 'ground-limestone' }

async function decide(bed: number, query = ''): Promise<Decision> {
  const { status, body } = await host.call('GET', `/api/beds/${bed}/decision${query}`)
  expect(status, JSON.stringify(body)).toBe(200)
  expect(JSON.stringify(body)).not.toMatch(/NaN|undefined|Infinity/)
  return decisionSchema.parse(body)
}
async function refused(method: 'POST' | 'PUT', url: string, body?: unknown): Promise<string> {
  const answer = await host.call(method, url, body)
  expect(answer.status, JSON.stringify(answer.body)).toBe(409)
  expect(answer.type).toContain('application/problem+json')
  return (answer.body as Problem).detail!
}
async function keep(bed = garden.sour): Promise<PlanView> {
  const { status, body } = await host.call('POST', `/api/beds/${bed}/plans`, lime)
  expect(status, JSON.stringify(body)).toBe(201)
  return planView.parse(body)
}
const done = (plan: number, portion: number, body: object) =>
  host.call('POST', `/api/plans/${plan}/stages/${portion}/done`, body)

describe('deciding', () => {
  test('a bed below its band is told what it needs, what may go on it, and who says so', async () => {
    const of = await decide(garden.sour)
    expect(of).toMatchObject({ bed: 'Heron Bed', at: DECIDED_AT, running: null, past: [] })
    expect(of.need).toMatchObject({ verdict: 'raise', days: 14, band: { low: 6, high: 7 } })
    expect(of.need.ph!.value).toBeCloseTo(5.3, 1)
    expect(of.need.target).toBeCloseTo(6.2, 6)
    expect(of.need.change).toBeCloseTo(0.9, 1)
    expect(of.need.confirmation).toMatchObject({ ph: 5.3, method: 'laboratory' })
    expect(of.need.crops).toMatchObject([{ name: 'Lettuce', band: { low: 6, high: 7 } }])
    expect(of.need.crops[0]!.published.length).toBeGreaterThan(3)
    expect(of.need.nutrients.hard.map(({ name }) => name)).toContain('phosphorus')
    expect(of.need.nutrients.sources.length).toBeGreaterThan(0)

    const limestone = of.options.find(({ material }) => material === 'ground-limestone')!
    expect(limestone).toMatchObject({ verdict: 'possible', direction: 'raises' })
    expect(limestone.dose!.bedG.typical).toBeCloseTo(2 * limestone.dose!.gM2.typical, 6)
    expect(limestone.cautions.length).toBeGreaterThan(3)
    const sulfur = of.options.find(({ material }) => material === 'sulfur')!
    expect(sulfur).toMatchObject({ verdict: 'refused', dose: null })
    const sources = of.options.flatMap(({ told }) => told).flatMap((told) => told.sources)
    expect(sources.length).toBeGreaterThan(0)
    expect(sources.map(({ id }) => id)).not.toContain('MEM')
    for (const { title, publisher } of sources) expect(`${title}${publisher}`).not.toBe('')
    expect(of.buffering!.parts.map(({ kind }) => kind)).toEqual(['texture'])
    expect(of.bufferingMissing).toBeNull()
  })

  test('the soil temperature of the spots is handed on', async () => {
    const bed = (await host.deps.garden.bed(garden.sour))!
    const { soilC } = await bedFacts(host.deps, bed)
    expect(soilC.day).toHaveLength(soilC.value.length)
    expect(soilC.day.length).toBeGreaterThan(55)
    expect(Array.from(soilC.day)).toEqual(Array.from(new Set(soilC.day)).toSorted((a, b) => a - b))
    for (const value of soilC.value) expect(value).toBeCloseTo(14, 0)
  })

  test('the own aim counts inside the band, and is asked about outside', async () => {
    expect((await decide(garden.sour, '?target=6.5')).need.target).toBe(6.5)
    const out = await decide(garden.sour, '?target=8')
    expect(out.need.target).toBeCloseTo(6.2, 6)
    expect(out.need.told.map(({ sentence }) => sentence).join(' ')).toMatch(/8\.0/)
  })

  test('a bed in its band gets no dose and no plan', async () => {
    const of = await decide(garden.fine)
    expect(of.need).toMatchObject({ verdict: 'none', change: 0 })
    expect(of.options.filter(({ verdict }) => verdict === 'possible')).toEqual([])
    expect(of.options.filter(({ dose }) => dose !== null)).toEqual([])
    const draft = await host.call('POST', `/api/beds/${garden.fine}/plans/draft`, lime)
    expect(draft.status).toBe(200)
    const { draft: plan, refused: why } = draftAnswer.parse(draft.body)
    expect(plan).toBeNull()
    expect(why.length).toBeGreaterThan(0)
    const text = await refused('POST', `/api/beds/${garden.fine}/plans`, lime)
    expect(text).toContain(why[0]!.sentence)
    expect((await host.call('GET', '/api/plans')).body).toEqual([])
  })

  test('a bed nobody has looked at, an unknown one and one out of use', async () => {
    const { id } = (
      await host.call('POST', '/api/beds', {
        name: 'New bed',
        areaM2: 1,
        depthM: 0.3,
        texture: 'raised-bed mix',
        crops: ['lettuce'],
        ownBand: null,
      })
    ).body as BedView
    const fresh = await decide(id)
    expect(fresh.need.verdict).toBe('cannot tell')
    expect(fresh.buffering).toBeNull()
    expect(fresh.bufferingMissing).toContain('raised-bed mix')
    expect((await host.call('GET', `/api/beds/${id}/plans`)).body).toEqual([])
    expect((await host.call('GET', '/api/beds/999/decision')).status).toBe(404)
    expect((await host.call('POST', '/api/beds/999/plans', lime)).status).toBe(404)
    expect((await host.call('GET', '/api/beds/999/plans')).status).toBe(404)
    await host.call('DELETE', `/api/beds/${id}`)
    expect(await host.call('GET', `/api/beds/${id}/decision`)).toMatchObject({
      status: 409,
      body: { detail: 'New bed is out of use' },
    })
    expect((await host.call('GET', `/api/beds/${id}/plans`)).status).toBe(200)
  })
})

describe('what is known of the soil', () => {
  test('moves the dose, and a jar test tells more than a table', async () => {
    const before = await decide(garden.sour)
    const soil = { bulkDensity: 700, planting: 'standing', hardWater: true }
    expect(await host.call('PUT', `/api/beds/${garden.sour}/soil`, soil)).toMatchObject({
      status: 200,
      body: soil,
    })
    const light = await decide(garden.sour)
    expect(light.soil).toEqual(soil)
    expect(light.buffering!.gM2PerPh.typical).toBeLessThan(before.buffering!.gM2PerPh.typical)

    const jars = {
      kind: 'jar test',
      at: DECIDED_AT - 20 * DAY,
      text: 'rainwater',
      soilG: 500,
      jars: [
        { limeG: 0, ph: 5.3 },
        { limeG: 0.5, ph: 5.9 },
        { limeG: 1, ph: 6.5 },
      ],
    }
    const made = await host.call('POST', `/api/beds/${garden.sour}/soil-tests`, jars)
    expect(made.status).toBe(201)
    const stored = soilTestView.parse(made.body)
    expect(stored.sentence).toBe(
      'Jars of 500 g of dry soil with pure lime: 0 g pH 5.3, 0.5 g pH 5.9, 1 g pH 6.5.',
    )
    const known = await decide(garden.sour)
    expect(known.tests.map(({ id }) => id)).toEqual([stored.id])
    expect(known.buffering!.parts.map(({ kind }) => kind)).toContain('jar test')
    for (const [body, says] of [
      [
        { kind: 'lime requirement', limeGM2: 350, depthM: 0.15, fromPh: 5.3, toPh: 6.3 },
        /advises 350 g .* 15 cm deep, from pH 5\.3 to 6\.3/,
      ],
      [{ kind: 'exchangeable acidity', meqPer100G: 2.5, ph: 5.3 }, /2\.5 meq in 100 g/],
      [{ kind: 'vinegar test', fizzes: false }, /does not fizz/],
    ] as const) {
      const one = await host.call('POST', `/api/beds/${garden.sour}/soil-tests`, {
        ...body,
        at: DECIDED_AT - 5 * DAY,
      })
      expect(one.status, JSON.stringify(one.body)).toBe(201)
      expect(soilTestView.parse(one.body).sentence).toMatch(says)
    }
    const listed = (await host.call('GET', `/api/beds/${garden.sour}/soil-tests`)).body as {
      id: number
    }[]
    expect(listed).toHaveLength(4)
    for (const { id } of listed) {
      expect((await host.call('DELETE', `/api/soil-tests/${id}`)).status).toBe(204)
    }
    expect((await host.call('DELETE', `/api/soil-tests/${listed[0]!.id}`)).status).toBe(404)
    const nothing = { bulkDensity: null, planting: null, hardWater: null }
    await host.call('PUT', `/api/beds/${garden.sour}/soil`, nothing)
    expect((await decide(garden.sour)).buffering).toEqual(before.buffering)
    expect((await host.call('PUT', '/api/beds/999/soil', nothing)).status).toBe(404)
    expect((await host.call('GET', '/api/beds/999/soil-tests')).status).toBe(404)
  })

  test('season, currency and prices are kept as they are set', async () => {
    const some = {
      season: { from: '03-15', to: '11-10' },
      currency: 'EUR',
      prices: [{ material: 'ground-limestone', perKg: 0.8 }],
    }
    expect((await host.call('PUT', '/api/planning-settings', some)).body).toEqual(some)
    const kept = await host.call('GET', '/api/planning-settings')
    expect(planningSettings.parse(kept.body)).toEqual(some)
    const draft = await host.call('POST', `/api/beds/${garden.sour}/plans/draft`, lime)
    expect(draftAnswer.parse(draft.body).draft!.grounds.join(' ')).toContain('15 March')
    const none = { season: null, currency: null, prices: [] }
    expect((await host.call('PUT', '/api/planning-settings', none)).body).toEqual(none)
  })
})

describe('a plan', () => {
  test('is drafted without being kept', async () => {
    const url = `/api/beds/${garden.sour}/plans/draft`
    const { draft } = draftAnswer.parse((await host.call('POST', url, lime)).body)
    expect(draft).toMatchObject({ name: 'ground limestone', strength: 0.9 })
    expect(draft!.stages.length).toBeGreaterThan(0)
    for (const { amountG, gM2, change, retestsAt } of draft!.stages) {
      expect(gM2).toBeCloseTo(amountG / 2, 6)
      expect(change.typical).toBeLessThanOrEqual(0.5)
      expect(change.high).toBeLessThanOrEqual(1)
      expect(retestsAt.length).toBeGreaterThan(0)
    }
    const { length } = draft!.course.time
    expect(draft!.course.low).toHaveLength(length)
    const strong = await host.call('POST', url, { ...lime, strength: 0.5 })
    const weak = draftAnswer.parse(strong.body).draft!
    // Where it is not said that the bed is bare, no more of the weak one goes on at once: it does less.
    expect(weak.stages[0]!.amountG).toBe(draft!.stages[0]!.amountG)
    expect(weak.stages[0]!.change.typical).toBeLessThan(draft!.stages[0]!.change.typical)
    const sour = draftAnswer.parse((await host.call('POST', url, { material: 'sulfur' })).body)
    expect(sour.draft).toBeNull()
    expect(sour.refused[0]).toMatchObject({ effect: 'refuse' })
    expect((await host.call('GET', `/api/beds/${garden.sour}/plans`)).body).toEqual([])
  })

  test('is kept, one at a time, and its portions are written down in their order', async () => {
    const before = host.events.length
    const plan = await keep()
    expect(host.events.slice(before)).toContainEqual({
      event: 'journal',
      data: { bedId: garden.sour },
    })
    expect(plan).toMatchObject({
      bed: 'Heron Bed',
      createdAt: DECIDED_AT,
      verdict: 'not begun',
      closedAt: null,
      measured: null,
      points: null,
    })
    expect(plan.cautions.length).toBeGreaterThan(3)
    expect(plan.next).toMatchObject({ stage: 0, amountG: plan.stages[0]!.amountG })
    expect(await refused('POST', `/api/beds/${garden.sour}/plans`, lime)).toContain('runs already')
    expect((await decide(garden.sour)).running?.id).toBe(plan.id)
    const running = (await host.call('GET', '/api/plans')).body as PlanView[]
    expect(running.map(({ id }) => id)).toEqual([plan.id])

    const { amountG } = plan.stages[0]!
    const soon = { at: DECIDED_AT, amountG }
    const bed = (await host.deps.garden.bed(garden.sour))!
    const describe = (ownBand: { low: number; high: number } | null): Promise<{ status: number }> =>
      host.call('PUT', `/api/beds/${bed.id}`, {
        name: bed.name,
        areaM2: bed.areaM2,
        depthM: bed.depthM,
        texture: bed.texture,
        crops: bed.crops,
        ownBand,
      })
    expect((await describe({ low: 4.3, high: 4.8 })).status).toBe(200)
    expect(await refused('POST', `/api/plans/${plan.id}/stages/1/done`, soon)).toMatch(
      /Put nothing on, and end the plan: .* has to go down\. If it is on already/,
    )
    expect((await decide(garden.sour)).running).toMatchObject({ stop: 'stopped', next: null })
    expect((await describe(null)).status).toBe(200)
    expect(await refused('POST', `/api/plans/${plan.id}/stages/2/done`, soon)).toContain(
      'has not been put on',
    )
    // The phone's clock is a little ahead of the hub's.
    const first = await done(plan.id, 1, { at: DECIDED_AT + MINUTE, amountG, text: 'raked in' })
    expect(first.status, JSON.stringify(first.body)).toBe(200)
    const begun = planView.parse(first.body)
    expect(begun.stages[0]!.entry).toMatchObject({
      at: DECIDED_AT,
      kind: 'treatment',
      material: 'ground limestone',
      amountG,
      text: 'raked in',
    })
    expect(begun.stages[0]!.before!.ph!.value).toBeCloseTo(5.3, 1)
    expect(begun.stages[0]!.before!.samples).toHaveLength(1)
    expect(begun.stages[1]!.entry).toBeNull()
    expect(begun.points!.time.length).toBeGreaterThan(25)
    expect(begun.course).not.toBeNull()
    expect(JSON.stringify(begun)).not.toMatch(/NaN|undefined|Infinity/)

    expect(await refused('POST', `/api/plans/${plan.id}/stages/1/done`, soon)).toContain('before')
    // Not before the first has shown what it does, though the gardener may be early.
    expect(await refused('POST', `/api/plans/${plan.id}/stages/2/done`, soon)).toMatch(
      /went on on 10 May 2027; measure again on 8 August 2027.*write it in the journal/,
    )
    expect((await done(plan.id, 9, soon)).status).toBe(404)
    expect((await done(999, 1, soon)).status).toBe(404)

    const id = begun.stages[0]!.entry!.id
    const journal = (await host.call('GET', `/api/beds/${garden.sour}/journal`)).body as Entry[]
    expect(journal.filter(({ kind }) => kind === 'treatment').map((e) => e.id)).toEqual([id])
    const note = { at: DECIDED_AT, kind: 'note', text: 'no lime after all' }
    expect(await refused('PUT', `/api/journal/${id}`, note)).toContain('portion of a plan')
    const other = { at: DECIDED_AT, kind: 'treatment', material: 'sulfur', amountG: 5 }
    expect(await refused('PUT', `/api/journal/${id}`, other)).toContain('portion of a plan')
    const less = { ...other, material: 'garden lime', amountG: 400 }
    expect((await host.call('PUT', `/api/journal/${id}`, less)).status).toBe(200)
    const [changed] = (await host.call('GET', '/api/plans')).body as PlanView[]
    expect(changed!.stages[0]!.entry).toMatchObject({ amountG: 400 })

    expect((await host.call('DELETE', `/api/journal/${id}`)).status).toBe(204)
    const [undone] = (await host.call('GET', '/api/plans')).body as PlanView[]
    expect(undone!.stages[0]!.entry).toBeNull()
    expect(undone!.verdict).toBe('not begun')

    const closed = await host.call('POST', `/api/plans/${plan.id}/close`, { ending: 'given up' })
    expect(planView.parse(closed.body)).toMatchObject({
      closedAt: DECIDED_AT,
      ending: 'given up',
      next: null,
      stop: null,
    })
    expect(await refused('POST', `/api/plans/${plan.id}/close`, { ending: 'reached' })).toContain(
      'ended before',
    )
    expect(await refused('POST', `/api/plans/${plan.id}/stages/1/done`, soon)).toMatch(/has ended/)
    expect((await host.call('POST', '/api/plans/999/close', { ending: 'reached' })).status).toBe(
      404,
    )
    const after = await decide(garden.sour)
    expect(after.running).toBeNull()
    expect(after.past.map((p) => p.id)).toEqual([plan.id])
    const again = await keep()
    const all = (await host.call('GET', `/api/beds/${garden.sour}/plans`)).body as PlanView[]
    expect(all.map(({ id }) => id)).toEqual([again.id, plan.id])
    await host.call('POST', `/api/plans/${again.id}/close`, { ending: 'given up' })
  })

  test('an impossible day is refused and nothing is written', async () => {
    const plan = await keep()
    const { amountG } = plan.stages[0]!
    const early = await done(plan.id, 1, { at: DECIDED_AT - 30 * DAY, amountG })
    expect(early).toMatchObject({ status: 400, body: { errors: [{ path: 'at' }] } })
    const late = await done(plan.id, 1, { at: DECIDED_AT + 3 * DAY, amountG })
    expect(late).toMatchObject({ status: 400, body: { errors: [{ path: 'at' }] } })
    expect((await decide(garden.sour)).running!.stages[0]!.entry).toBeNull()
    await host.call('POST', `/api/plans/${plan.id}/close`, { ending: 'given up' })
  })
})

test('the next portion waits for the re-test, follows what was measured, and is refused when the bed is there', async () => {
  const plan = await keep()
  const { amountG } = plan.stages[0]!
  expect((await done(plan.id, 1, { at: DECIDED_AT, amountG })).status).toBe(200)

  const retested = DECIDED_AT + 100 * DAY
  host.setTime(retested)
  await readPlannedGarden(host.deps, DECIDED_AT, retested, { at: DECIDED_AT, rise: 0.45 })
  await goneThrough(host.deps, [garden.sour, garden.fine])
  const [seen] = (await host.call('GET', '/api/plans')).body as PlanView[]
  // 0.45 to come in all, half of it in 30 days.
  expect(seen).toMatchObject({ verdict: 'as expected', stop: null })
  expect(seen!.measured!.low).toBeLessThan(0.405)
  expect(seen!.measured!.high).toBeGreaterThan(0.405)
  expect(seen!.stages[0]!.after!.ph!.value).toBeCloseTo(5.7, 1)
  expect(seen!.next!.amountG).toBeLessThanOrEqual(seen!.stages[1]!.amountG)
  // Earlier than the plan says, but after the re-test.
  expect(seen!.next!.dueAt).toBeGreaterThan(retested)
  const second = { at: retested, amountG: seen!.next!.amountG }
  const on = planView.parse((await done(plan.id, 2, second)).body)
  expect(on.stages[1]!.entry).toMatchObject(second)
  expect((await host.call('DELETE', `/api/journal/${on.stages[1]!.entry!.id}`)).status).toBe(204)

  const later = retested + 40 * DAY
  host.setTime(later)
  await readPlannedGarden(host.deps, retested, later, { at: DECIDED_AT, rise: 1.1 })
  await goneThrough(host.deps, [garden.sour, garden.fine])
  const [there] = (await host.call('GET', '/api/plans')).body as PlanView[]
  expect(there).toMatchObject({ verdict: 'more than expected', stop: 'stopped', next: null })
  expect(there!.causes.length).toBeGreaterThan(0)
  const why = await refused('POST', `/api/plans/${plan.id}/stages/2/done`, { ...second, at: later })
  expect(why).toContain(there!.sentence)
  await host.call('POST', `/api/plans/${plan.id}/close`, { ending: 'stopped' })
  expect(
    (await host.deps.garden.journal({ bedId: garden.sour })).filter((e) => e.kind === 'treatment'),
  ).toHaveLength(1)
}, 90_000)

test('the document of the API tells of every address', async () => {
  const { paths } = (await host.call('GET', '/api/openapi.json')).body as {
    paths: Record<string, Record<string, unknown>>
  }
  for (const [path, methods] of Object.entries({
    '/api/beds/{id}/decision': ['get'],
    '/api/beds/{id}/plans/draft': ['post'],
    '/api/beds/{id}/plans': ['get', 'post'],
    '/api/plans': ['get'],
    '/api/plans/{id}/stages/{stage}/done': ['post'],
    '/api/plans/{id}/close': ['post'],
    '/api/beds/{id}/soil': ['put'],
    '/api/beds/{id}/soil-tests': ['get', 'post'],
    '/api/soil-tests/{id}': ['delete'],
    '/api/planning-settings': ['get', 'put'],
    '/api/journal/{id}/photo': ['delete', 'get', 'put'],
    '/api/beds/{id}/photos': ['get'],
    '/api/review': ['get'],
    '/api/beds/{id}/report': ['get'],
    '/api/report': ['get'],
    '/api/review.csv': ['get'],
    '/api/beds/{id}/report.csv': ['get'],
    '/api/report.csv': ['get'],
    '/api/calendar.ics': ['get'],
  })) {
    expect(Object.keys(paths[path] ?? {}).toSorted(), path).toEqual(methods)
  }
})

test('a bed that goes out of use takes its plan with it', async () => {
  await using other = await apiHost(DECIDED_AT)
  const { sour } = await plantPlannedGarden(other.deps)
  const stored = (await host.deps.garden.plans(garden.sour))[0]!
  const again = {
    ...stored,
    bedId: sour,
    stages: stored.stages.map((stage) => ({ ...stage, entryId: null })),
  }
  const plan = (await other.deps.garden.addPlan(again, DECIDED_AT))!
  expect((await other.call('GET', '/api/plans')).body).toHaveLength(1)
  expect((await other.call('DELETE', `/api/beds/${sour}`)).status).toBe(200)
  expect((await other.call('GET', '/api/plans')).body).toEqual([])
  const kept = (await other.call('GET', `/api/beds/${sour}/plans`)).body as PlanView[]
  expect(kept).toMatchObject([{ id: plan.id, closedAt: DECIDED_AT, ending: 'given up' }])
  const late = { at: DECIDED_AT, amountG: 1 }
  expect(await other.call('POST', `/api/plans/${plan.id}/stages/1/done`, late)).toMatchObject({
    status: 409,
    body: { detail: 'Heron Bed is out of use' },
  })
})
