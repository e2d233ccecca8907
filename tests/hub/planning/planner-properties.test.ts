import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { AMENDMENTS } from '#hub/agronomy/amendments.ts'
import { dosingOf } from '#hub/agronomy/dosing.ts'
import { SOURCES } from '#hub/agronomy/sources.ts'
import { TEXTURES } from '#hub/model/bed.ts'
import { DAY } from '#hub/model/clock.ts'
import type { NewSoilTest } from '#hub/model/soil.ts'
import type { BedFacts } from '#hub/planning/bed-facts.ts'
import { type Buffering, bufferingOf } from '#hub/planning/buffering.ts'
import { dayOf } from '#hub/planning/calendar.ts'
import { doseOf } from '#hub/planning/dose.ts'
import { type Draft, draftPlan } from '#hub/planning/draft.ts'
import { capsOn } from '#hub/planning/limits.ts'
import { type Need, needOf } from '#hub/planning/need.ts'
import { type MaterialOption, optionsFor } from '#hub/planning/options.ts'
import { roundedDown } from '#hub/planning/portions.ts'
import { inSeason, seasonOf } from '#hub/planning/season.ts'
import { isFree, mayPlan, tell } from '#hub/planning/told.ts'
import { type Change, factsOf, NOW, sampleOf, treated } from './facts.ts'

const RUNS = { numRuns: 100, seed: 1 } as const

/** Any bed that a garden may have, most of them in need of something. */
const anyBed: fc.Arbitrary<BedFacts> = fc
  .record({
    ph: fc.double({ min: 4, max: 8.4, noNaN: true }),
    low: fc.double({ min: 4.2, max: 7.5, noNaN: true }),
    width: fc.double({ min: 0.2, max: 1.5, noNaN: true }),
    areaM2: fc.double({ min: 0.1, max: 60, noNaN: true }),
    depthM: fc.double({ min: 0.05, max: 0.8, noNaN: true }),
    density: fc.option(fc.integer({ min: 200, max: 1800 })),
    texture: fc.constantFrom(...TEXTURES),
    planting: fc.constantFrom('bare', 'standing', null),
    hardWater: fc.constantFrom(true, false, null),
    day: fc.integer({ min: 0, max: 364 }),
    zone: fc.constantFrom('Europe/Lisbon', 'Pacific/Auckland', 'America/Denver', 'Asia/Kolkata'),
    warmth: fc.constantFrom('none', 'year', 'cold', 'warm'),
    own: fc.boolean(),
    past: fc.array(
      fc.record({
        material: fc.constantFrom(
          'lime',
          'dolomite',
          'sulfur',
          'wood ash',
          'iron sulfate',
          'urea',
          'compost',
          'tonic',
        ),
        days: fc.integer({ min: 1, max: 700 }),
        amountG: fc.option(fc.integer({ min: 1, max: 5000 })),
      }),
      { maxLength: 4 },
    ),
    tests: fc.array(
      fc.constantFrom<NewSoilTest>(
        {
          bedId: 1,
          at: NOW - 900 * DAY,
          text: '',
          kind: 'lime requirement',
          limeGM2: 350,
          depthM: 0.2,
          fromPh: 5.2,
          toPh: 6.5,
        },
        {
          bedId: 1,
          at: NOW - 900 * DAY,
          text: '',
          kind: 'exchangeable acidity',
          meqPer100G: 4,
          ph: 5.4,
        },
        { bedId: 1, at: NOW - 900 * DAY, text: '', kind: 'vinegar test', fizzes: false },
        {
          bedId: 1,
          at: NOW - 900 * DAY,
          text: '',
          kind: 'jar test',
          soilG: 200,
          jars: [
            { limeG: 0, ph: 5.4 },
            { limeG: 0.2, ph: 5.9 },
            { limeG: 0.4, ph: 6.4 },
            { limeG: 0.8, ph: 7.1 },
          ],
        },
      ),
      { maxLength: 3 },
    ),
  })
  .map((r) => {
    const at = NOW + r.day * DAY
    const journal: Change['journal'][number][] = [
      ...r.past.map((p) => treated(p.material, p.days, p.amountG, at)),
      sampleOf(r.ph, 0.5, at),
    ]
    return factsOf({
      at,
      ph: r.ph,
      zone: r.zone,
      journal,
      tests: r.tests,
      season: r.own ? { from: '10-15', to: '03-20' } : null,
      soilC:
        r.warmth === 'none'
          ? null
          : r.warmth === 'year'
            ? (before) =>
                12 - 8 * Math.cos((2 * Math.PI * ((at - before * DAY) / DAY - 15)) / 365.25)
            : () => (r.warmth === 'cold' ? 6 : 18),
      bed: {
        areaM2: r.areaM2,
        depthM: r.depthM,
        texture: r.texture,
        ownBand: { low: r.low, high: r.low + r.width },
      },
      soil: { bulkDensity: r.density, planting: r.planting, hardWater: r.hardWater },
    })
  })

interface Planned {
  readonly facts: BedFacts
  readonly need: Need
  readonly buffering: Buffering | null
  readonly options: readonly MaterialOption[]
}

function planned(facts: BedFacts): Planned {
  const need = needOf(facts, null)
  const buffering = bufferingOf(facts, need.verdict === 'lower' ? 'lower' : 'raise')
  return { facts, need, buffering, options: optionsFor(facts, need, buffering) }
}

function drafts({ facts, need, buffering, options }: Planned, share: number | null): Draft[] {
  return options.flatMap((option) => {
    const acts = dosingOf(option.material)?.acts
    const strength =
      share === null || acts === undefined ? null : acts.low + share * (acts.high - acts.low)
    const draft = draftPlan(facts, need, buffering, option, strength)
    return 'refused' in draft ? [] : [draft]
  })
}

const share = fc.option(fc.double({ min: 0, max: 1, noNaN: true }))

describe('whatever the bed', () => {
  test('no portion passes its limits, each by itself and in any year', () => {
    let seen = 0
    fc.assert(
      fc.property(anyBed, share, (facts, of) => {
        const all = planned(facts)
        const { low, typical } = all.buffering?.gM2PerPh ?? { low: NaN, typical: NaN }
        for (const { plan } of drafts(all, of)) {
          const dosing = dosingOf(plan.material)!
          const strongest = of === null ? dosing.acts.high : plan.strength
          for (const [i, stage] of plan.stages.entries()) {
            seen++
            const gM2 = stage.amountG / facts.bed.areaM2
            const slack = 1 + 1e-9
            expect((gM2 * plan.strength) / typical).toBeLessThanOrEqual(0.5 * slack)
            expect((gM2 * strongest) / low).toBeLessThanOrEqual(1 * slack)
            expect(Math.abs(stage.change.typical)).toBeLessThanOrEqual(0.5 * slack)
            expect(Math.abs(stage.change.high)).toBeLessThanOrEqual(1 * slack)
            const year = plan.stages
              .slice(0, i + 1)
              .filter((s) => s.dueAt > stage.dueAt - 365 * DAY)
            const moved = year.reduce((sum, s) => sum + Math.abs(s.change.typical), 0)
            expect(moved).toBeLessThanOrEqual(1 * slack)
            const before = facts.journal.filter(
              (e) =>
                e.kind === 'treatment' &&
                e.at > stage.dueAt - 365 * DAY &&
                sameMaterial(e.material, plan.material),
            )
            const put = before.reduce((sum, e) => sum + (e.amountG ?? 0), 0) / facts.bed.areaM2
            for (const cap of capsOn(facts, dosing, stage.dueAt)) {
              if (cap.per === 'application') expect(gM2).toBeLessThanOrEqual(cap.gM2 * slack)
              else {
                const whole = put + year.reduce((sum, s) => sum + s.amountG / facts.bed.areaM2, 0)
                expect(whole).toBeLessThanOrEqual(cap.gM2 * slack)
              }
            }
            // Every limit holds for the plan as it is shown, too.
            expect(stage.amountG).toBe(roundedDown(stage.amountG))
          }
        }
      }),
      RUNS,
    )
    expect(seen).toBeGreaterThan(100)
  })

  test('days ascend, lie in the season, are apart as they should be, begin today or later, at the start of a day', () => {
    let seen = 0
    fc.assert(
      fc.property(anyBed, (facts) => {
        const season = seasonOf(facts)
        for (const { plan } of drafts(planned(facts), null)) {
          const { wait } = dosingOf(plan.material)!
          for (const [i, stage] of plan.stages.entries()) {
            seen++
            const { zone } = facts
            const day = dayOf(stage.dueAt, zone)
            expect(inSeason(season, day)).toBe(true)
            expect(day.toZonedDateTime(zone).epochMilliseconds).toBe(stage.dueAt)
            expect(Temporal.PlainDate.compare(day, dayOf(facts.at, zone))).toBeGreaterThanOrEqual(0)
            const last = plan.stages[i - 1]
            if (last !== undefined) {
              const apart = dayOf(last.dueAt, zone).until(day, { largestUnit: 'days' }).days
              expect(apart).toBeGreaterThanOrEqual(Math.max(30, wait.days))
            }
            expect(stage.fullFrom).toBeGreaterThan(stage.dueAt)
            expect(stage.fullBy).toBeGreaterThanOrEqual(stage.fullFrom)
            expect(stage.retestsAt.length).toBeGreaterThan(0)
            const { retestsAt } = stage
            expect(retestsAt).toEqual(Array.from(new Set(retestsAt)).toSorted((a, b) => a - b))
            expect(retestsAt[0]!).toBeGreaterThan(stage.dueAt)
          }
        }
      }),
      RUNS,
    )
    expect(seen).toBeGreaterThan(100)
  })

  test('no dose without a buffering, against a refusal, or while something is asked', () => {
    fc.assert(
      fc.property(anyBed, (facts) => {
        const { need, options, buffering } = planned(facts)
        for (const option of options) {
          if (buffering === null || !mayPlan(need.told) || !mayPlan(option.told)) {
            expect(option.dose).toBeNull()
          }
          if (option.verdict === 'possible') {
            expect(buffering).not.toBeNull()
            expect(isFree(need.told)).toBe(true)
            expect(option.dose).not.toBeNull()
          }
        }
        const without = optionsFor(facts, need, null)
        for (const option of without) {
          expect(option.dose).toBeNull()
          expect(option.verdict).not.toBe('possible')
          expect(draftPlan(facts, need, null, option, null)).toHaveProperty('refused')
        }
      }),
      RUNS,
    )
  })

  test('the plan goes the way that is needed, never further than the way, and says where it ends', () => {
    fc.assert(
      fc.property(anyBed, share, (facts, of) => {
        const all = planned(facts)
        for (const { plan, ends, course, sentence } of drafts(all, of)) {
          const way = Math.sign(all.need.change)
          for (const { change } of plan.stages) {
            for (const value of [change.low, change.typical, change.high]) {
              expect(Math.sign(value)).toBe(way)
            }
            expect(Math.abs(change.low)).toBeLessThanOrEqual(Math.abs(change.typical))
            expect(Math.abs(change.typical)).toBeLessThanOrEqual(Math.abs(change.high))
          }
          const whole = plan.stages.reduce((sum, s) => sum + s.change.typical, 0)
          expect(Math.abs(whole)).toBeLessThanOrEqual(Math.abs(all.need.change) * (1 + 1e-9))
          expect(ends.low).toBeLessThanOrEqual(ends.typical)
          expect(ends.typical).toBeLessThanOrEqual(ends.high)
          expect(plan.stages.length).toBeLessThanOrEqual(4)
          for (const i of course.time.keys()) {
            expect(course.low[i]!).toBeLessThanOrEqual(course.typical[i]!)
            expect(course.typical[i]!).toBeLessThanOrEqual(course.high[i]!)
          }
          expect(sentence).not.toMatch(/NaN|undefined|Infinity/)
        }
      }),
      RUNS,
    )
  })

  test('every word of advice names a publication that is in the table of sources', () => {
    const known = new Set(SOURCES.map(({ id }) => id))
    fc.assert(
      fc.property(anyBed, (facts) => {
        const all = planned(facts)
        const told = [
          ...all.need.told,
          ...all.options.flatMap((o) => o.told),
          ...drafts(all, null).flatMap((d) => d.told),
          ...all.options.flatMap((o) => {
            const draft = draftPlan(facts, all.need, all.buffering, o, 9)
            return 'refused' in draft ? draft.refused : []
          }),
        ]
        const ids = [
          ...told.flatMap(({ sources }) => sources),
          ...(all.buffering?.parts.flatMap(({ sources }) => sources) ?? []),
          ...all.options.flatMap((o) => o.cautions.map(({ source }) => source)),
        ]
        expect(ids.filter((id) => !known.has(id))).toEqual([])
        expect(told.every(({ sources }) => sources.length > 0)).toBe(true)
      }),
      RUNS,
    )
  })
})

function sameMaterial(words: string | null, slug: string): boolean {
  return AMENDMENTS.find((row) => row.slug === slug)!.aliases.includes(words ?? '')
}

/** A sour bed on which everything may be done. */
const SOUR = factsOf()
const BUFFERED = fc
  .tuple(
    fc.double({ min: 20, max: 2000, noNaN: true }),
    fc.double({ min: 1, max: 3, noNaN: true }),
    fc.double({ min: 1, max: 3, noNaN: true }),
  )
  .map(([typical, below, above]) => ({ low: typical / below, typical, high: typical * above }))
const as = (gM2PerPh: Buffering['gM2PerPh']): Buffering => ({ gM2PerPh, parts: [], sentence: '' })

describe('arithmetic of a dose', () => {
  const need = needOf(SOUR, null)
  const lime = dosingOf('ground-limestone')!
  const first = (facts: BedFacts, buffering: Buffering, strength: number | null): number => {
    const option = optionsFor(facts, need, buffering).find(
      (o) => o.material === 'ground-limestone',
    )!
    const draft = draftPlan(facts, need, buffering, option, strength)
    return 'refused' in draft ? 0 : draft.plan.stages[0]!.amountG
  }

  test('more buffering never means less lime', () => {
    fc.assert(
      fc.property(BUFFERED, fc.double({ min: 1, max: 4, noNaN: true }), (range, by) => {
        const more = { low: range.low * by, typical: range.typical * by, high: range.high * by }
        const a = doseOf(SOUR, need, as(range), lime, 1)!
        const b = doseOf(SOUR, need, as(more), lime, 1)!
        expect(b.gM2.low).toBeGreaterThanOrEqual(a.gM2.low)
        expect(b.gM2.typical).toBeGreaterThanOrEqual(a.gM2.typical)
        expect(b.gM2.high).toBeGreaterThanOrEqual(a.gM2.high)
        expect(first(SOUR, as(more), 1)).toBeGreaterThanOrEqual(first(SOUR, as(range), 1))
      }),
      RUNS,
    )
  })

  test('a stronger product never means more of it', () => {
    const strengths = fc.tuple(
      fc.double({ min: 0.4, max: 1.1, noNaN: true }),
      fc.double({ min: 0.4, max: 1.1, noNaN: true }),
    )
    fc.assert(
      fc.property(BUFFERED, strengths, (range, pair) => {
        const [weak, strong] = pair.toSorted((a, b) => a - b) as [number, number]
        const a = doseOf(SOUR, need, as(range), lime, weak)!
        const b = doseOf(SOUR, need, as(range), lime, strong)!
        expect(b.gM2.typical).toBeLessThanOrEqual(a.gM2.typical)
        expect(first(SOUR, as(range), strong)).toBeLessThanOrEqual(first(SOUR, as(range), weak))
      }),
      RUNS,
    )
  })

  test('twice the area is twice the amount and the same on a square metre', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.2, max: 30, noNaN: true }), (areaM2) => {
        const one = factsOf({ bed: { areaM2 } })
        const two = factsOf({ bed: { areaM2: 2 * areaM2 } })
        const [a, b] = [one, two].map((f) => doseOf(f, need, bufferingOf(f, 'raise')!, lime)!)
        expect(b!.bedG.typical).toBeCloseTo(2 * a!.bedG.typical, 6)
        expect(b!.gM2).toEqual(a!.gM2)
      }),
      RUNS,
    )
  })

  test('depth and density scale the dose in a straight line, whatever it rests on', () => {
    const kinds: readonly NewSoilTest[] = [
      { bedId: 1, at: NOW, text: '', kind: 'exchangeable acidity', meqPer100G: 4, ph: 5.4 },
      {
        bedId: 1,
        at: NOW,
        text: '',
        kind: 'lime requirement',
        limeGM2: 300,
        depthM: 0.2,
        fromPh: 5.5,
        toPh: 6.5,
      },
    ]
    fc.assert(
      fc.property(
        fc.double({ min: 0.05, max: 0.4, noNaN: true }),
        fc.subarray([...kinds]),
        fc.constantFrom('raise', 'lower'),
        (depthM, tests, way) => {
          const at = (depth: number): number =>
            bufferingOf(factsOf({ bed: { depthM: depth }, tests }), way)!.gM2PerPh.typical
          expect(at(2 * depthM) / at(depthM)).toBeCloseTo(2, 9)
        },
      ),
      RUNS,
    )
    const byDensity = (bulkDensity: number): number =>
      bufferingOf(factsOf({ soil: { bulkDensity } }), 'raise')!.gM2PerPh.typical
    expect(byDensity(700) / byDensity(1400)).toBeCloseTo(0.5, 9)
  })

  test('adding a refusal, an ask or a wait without a date never makes anything possible', () => {
    const word = fc
      .constantFrom('refuse', 'wait', 'ask', 'limit', 'warn', 'tell')
      .map((effect) => tell(effect as 'wait', 'It is so.', 'Because.', ['MEM']))
    fc.assert(
      fc.property(fc.array(word), word, fc.nat(), (list, more, where) => {
        const longer = list.toSpliced(where % (list.length + 1), 0, more)
        if (isFree(longer)) expect(isFree(list)).toBe(true)
        if (mayPlan(longer)) expect(mayPlan(list)).toBe(true)
        if (isFree(longer)) expect(mayPlan(longer)).toBe(true)
      }),
      RUNS,
    )
    const buffering = bufferingOf(SOUR, 'raise')
    for (const option of optionsFor(SOUR, need, buffering)) {
      for (const effect of ['refuse', 'ask', 'wait'] as const) {
        const told = [...option.told, tell(effect, 'No.', 'Because.', ['MEM'])]
        expect(draftPlan(SOUR, need, buffering, { ...option, told }, null)).toHaveProperty(
          'refused',
        )
        const barred = { ...need, told: [...need.told, ...told] }
        expect(draftPlan(SOUR, barred, buffering, option, null)).toHaveProperty('refused')
      }
    }
  })

  test('amounts are what kitchen scales show, never more than was reckoned', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 50_000, noNaN: true }), (grams) => {
        const shown = roundedDown(grams)
        expect(shown).toBeLessThanOrEqual(grams + 1e-6)
        const step = grams >= 2000 ? 50 : grams >= 200 ? 10 : 5
        expect(grams - shown).toBeLessThan(step)
        expect(shown % 5).toBe(0)
      }),
      RUNS,
    )
    expect([4.9, 5, 204, 209.9, 210, 2049, 2050, -3, NaN].map(roundedDown)).toEqual([
      0, 5, 200, 200, 210, 2000, 2050, 0, 0,
    ])
  })
})
