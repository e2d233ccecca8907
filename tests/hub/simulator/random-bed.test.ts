import { describe, expect, test } from 'vitest'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { type BedEvent, EXTRA_KINDS, SAMPLE_MS, USUAL_KINDS } from '#hub/simulator/bed-events.ts'
import { randomBed, type RandomBed } from '#hub/simulator/random-bed.ts'

const SEEDS = Array.from({ length: 12 }, (_, i) => 7_000_000 + i)

const mean = (values: readonly number[]): number =>
  values.reduce((sum, value) => sum + value, 0) / values.length

function sd(values: readonly number[]): number {
  const centre = mean(values)
  return Math.sqrt(mean(values.map((value) => (value - centre) ** 2)))
}

function median(values: Iterable<number>): number {
  const sorted = [...values].filter((v) => !Number.isNaN(v)).toSorted((a, b) => a - b)
  return sorted[sorted.length >> 1] ?? NaN
}

/** Median of what a probe showed, codes and gaps left out, over a span of hours after (or before) a moment. */
function level(bed: RandomBed, spot: number, at: number, fromH: number, toH: number): number {
  const { ph } = bed.spots[spot]!
  const first = Math.round((at + fromH * HOUR - bed.startMs) / SAMPLE_MS)
  const last = Math.round((at + toH * HOUR - bed.startMs) / SAMPLE_MS)
  return median(ph.subarray(Math.max(0, first), last).filter((v) => v > 2.5 && v < 11))
}

test('the same seed gives the same bed, another seed another', () => {
  const options = { spots: 2, days: 120, withEvents: true }
  const a = randomBed(5, options)
  expect(randomBed(5, options)).toEqual(a)
  expect(randomBed(6, options).spots[0]!.ph).not.toEqual(a.spots[0]!.ph)
})

test('one more spot leaves the others as they were', () => {
  const two = randomBed(8, { spots: 2, days: 90 })
  const three = randomBed(8, { spots: 3, days: 90 })
  expect(three.ground).toEqual(two.ground)
  // Visits are drawn for all spots in turn; what the soil around a probe is like is not.
  expect(three.spots.slice(0, 2).map(({ offsetPh, gain }) => [offsetPh, gain])).toEqual(
    two.spots.map(({ offsetPh, gain }) => [offsetPh, gain]),
  )
})

describe('a quiet year', () => {
  const beds = SEEDS.map((seed) => randomBed(seed, { spots: 3 }))

  test('has no event, no treatment and a visit every 25 to 60 days', () => {
    for (const bed of beds) {
      expect(bed.events).toEqual([])
      const times = [...new Set(bed.visits.map(({ at }) => at))]
      expect(bed.visits).toHaveLength(times.length * 3)
      expect(times.length).toBeGreaterThanOrEqual(5)
      expect(times.length).toBeLessThanOrEqual(14)
      for (const [i, at] of times.entries()) {
        const gap = (at - (times[i - 1] ?? bed.startMs)) / DAY
        expect(gap).toBeGreaterThan(24)
        expect(gap).toBeLessThan(61.5)
      }
    }
    const logged = beds.flatMap(({ visits }) => visits.map((v) => (v.loggedAt === null ? 0 : 1)))
    expect(Math.abs(mean(logged) - 0.8)).toBeLessThan(0.08)
    const errors = beds.flatMap(({ visits }) =>
      visits.flatMap(({ at, loggedAt }) => (loggedAt === null ? [] : [(loggedAt - at) / HOUR])),
    )
    expect(sd(errors)).toBeGreaterThan(0.85)
    expect(sd(errors)).toBeLessThan(1.15)
  })

  test('has rain on a third of its days, 6 mm a wet day', () => {
    const daily = beds.flatMap(({ ground }) =>
      Array.from({ length: 365 }, (_, d) =>
        ground.rainMm.subarray(d * 24, (d + 1) * 24).reduce((a, b) => a + b, 0),
      ),
    )
    const wet = daily.filter((mm) => mm > 0)
    // Stationary share of P(wet|dry) .25 and P(wet|wet) .5: .25 / (1 + .25 - .5).
    expect(Math.abs(wet.length / daily.length - 1 / 3)).toBeLessThan(0.03)
    // A little is lost where a wet spell would run past midnight.
    expect(mean(wet)).toBeGreaterThan(5)
    expect(mean(wet)).toBeLessThan(6.6)
  })

  test('is warm in summer, cold in winter, and swings less in a day than the surface does', () => {
    for (const { ground, startMs } of beds) {
      const monthly = (month: number): number =>
        mean(
          [...ground.temperatureC].filter(
            (_, i) => new Date(startMs + i * SAMPLE_MS).getUTCMonth() === month,
          ),
        )
      expect(monthly(7) - monthly(1)).toBeGreaterThan(10)
      expect(monthly(7) - monthly(1)).toBeLessThan(24)
      expect(Math.abs(mean([...ground.temperatureC]) - ground.meanC)).toBeLessThan(2)
      const swings = Array.from({ length: 365 }, (_, d) => {
        const day = ground.temperatureC.subarray(d * 96, (d + 1) * 96)
        return Math.max(...day) - Math.min(...day)
      })
      // At 0.12 m a daily wave keeps exp(-.12/.117) = .36 of its 6 to 12 degrees; spells come on top.
      expect(median(swings)).toBeGreaterThan(1.8)
      expect(median(swings)).toBeLessThan(6)
    }
  })

  test('keeps its water between wilting point and saturation, and is dry now and then', () => {
    for (const { ground, spots } of beds) {
      expect(ground.wiltingPoint / ground.fieldCapacity).toBeGreaterThan(0.349)
      expect(ground.wiltingPoint / ground.fieldCapacity).toBeLessThan(0.451)
      for (const theta of ground.moisture) {
        if (theta < ground.wiltingPoint - 1e-9 || theta > ground.fieldCapacity + 0.15) {
          expect.fail(`${theta} m3/m3 is outside what this soil can hold`)
        }
      }
      for (const { drySpells } of spots) expect(drySpells.length).toBeLessThan(20)
    }
    expect(
      beds.filter(({ spots }) => spots.some((s) => s.drySpells.length > 0)).length,
    ).toBeGreaterThan(beds.length / 3)
  })

  test('a dry spell lies within one of poor contact', () => {
    for (const { drySpells, poorSpells } of beds.flatMap((bed) => bed.spots)) {
      for (const { from, to } of drySpells) {
        expect(poorSpells.some((poor) => poor.from <= from && to <= poor.to)).toBe(true)
      }
    }
  })

  test('labels of dry spells agree with the contact', () => {
    for (const { spots, ground, startMs } of beds) {
      for (const { from, to } of spots[0]!.drySpells) {
        for (const at of [from, to - SAMPLE_MS]) {
          const available = ground.available[(at - startMs) / SAMPLE_MS]!
          expect(available).toBeLessThan(0.4)
        }
      }
    }
  })

  test('spots, drift and noise have the spread they were given', () => {
    const spots = beds.flatMap((bed) => bed.spots)
    expect(sd(spots.map(({ offsetPh }) => offsetPh))).toBeGreaterThan(0.12)
    expect(sd(spots.map(({ offsetPh }) => offsetPh))).toBeLessThan(0.28)
    expect(Math.abs(mean(spots.map(({ driftPhPer30d }) => driftPhPer30d)) - 0.09)).toBeLessThan(
      0.05,
    )
    // Differences of neighbouring samples: white .02 twice, plus what is new of .05 over 6 h in a quarter.
    const steps = beds.flatMap(({ spots: own, ground }) =>
      own.flatMap(({ ph }) => {
        const out: number[] = []
        for (let i = 1; i < 4000; i++) {
          if (ground.available[i]! > 0.6) out.push(Math.abs(ph[i]! - ph[i - 1]!))
        }
        return out
      }),
    )
    const expected = 0.6745 * Math.sqrt(2 * 0.02 ** 2 + 2 * 0.05 ** 2 * (1 - Math.exp(-1 / 24)))
    expect(median(steps)).toBeGreaterThan(expected * 0.8)
    expect(median(steps)).toBeLessThan(expected * 1.2)
  })

  test('silence, standing values and codes come as often as they should', () => {
    const years = beds.length * 3
    const spots = beds.flatMap((bed) => bed.spots.map((spot) => ({ bed, spot })))
    const silent = spots.flatMap(({ spot }) => spot.silentSpells)
    const stuck = spots.flatMap(({ spot }) => spot.stuckSpells)
    expect(silent.length / years).toBeGreaterThan(2.8)
    expect(silent.length / years).toBeLessThan(5.2)
    expect(stuck.length / years).toBeGreaterThan(0.3)
    expect(stuck.length / years).toBeLessThan(1.1)
    let codes = 0
    let samples = 0
    for (const { spot } of spots) {
      for (const ph of spot.ph) {
        samples++
        if (ph === 0 || ph === 14 || ph === 3 || ph === -99_999) codes++
      }
    }
    expect(codes / samples).toBeGreaterThan(2e-4)
    expect(codes / samples).toBeLessThan(6e-4)
    for (const { bed, spot } of spots) {
      for (const { from, to } of spot.silentSpells) {
        const first = (from - bed.startMs) / SAMPLE_MS
        const last = (to - bed.startMs) / SAMPLE_MS
        expect([...spot.ph.subarray(first, last)].every(Number.isNaN)).toBe(true)
        expect([...spot.moisture.subarray(first, last)].every(Number.isNaN)).toBe(true)
      }
    }
  })

  test('pH is shown in hundredths', () => {
    const { ph } = beds[0]!.spots[0]!
    for (const value of ph.subarray(0, 5000)) {
      if (!Number.isNaN(value)) expect(Number(value.toFixed(2))).toBe(value)
    }
    const coarse = randomBed(1, { spots: 1, days: 30, resolutionPh: 0.1 }).spots[0]!.ph
    expect([...coarse].every((v) => Number.isNaN(v) || Number(v.toFixed(1)) === v)).toBe(true)
  })
})

describe('a year with the usual events', () => {
  const beds = SEEDS.map((seed) => randomBed(seed, { spots: 3, withEvents: true }))
  const cases = (kind: BedEvent['kind']): { bed: RandomBed; event: BedEvent }[] =>
    beds.flatMap((bed) =>
      bed.events.filter((event) => event.kind === kind).map((event) => ({ bed, event })),
    )

  test('has three of each, at least 24 days apart, in their ranges', () => {
    for (const { events, startMs, days } of beds) {
      for (const kind of USUAL_KINDS) {
        expect(events.filter((event) => event.kind === kind)).toHaveLength(3)
      }
      for (const [i, { onset, kind, sizePh }] of events.entries()) {
        if (i > 0) expect(onset - events[i - 1]!.onset).toBeGreaterThanOrEqual(24 * DAY)
        expect(onset).toBeGreaterThanOrEqual(startMs + 20 * DAY)
        expect(onset).toBeLessThan(startMs + (days - 14) * DAY)
        const size = Math.abs(sizePh)
        expect(size).toBeGreaterThanOrEqual(0.5)
        expect(size).toBeLessThanOrEqual(kind === 'water' ? 0.9 : kind === 'service' ? 1.2 : 2)
        if (kind === 'water') expect(sizePh).toBeLessThan(0)
      }
    }
  })

  test('the soil stays what soils are, and probes what they show', () => {
    for (const { ground, spots } of beds) {
      expect(Math.min(...ground.ph)).toBeGreaterThan(3)
      expect(Math.max(...ground.ph)).toBeLessThan(9.5)
      for (const { ph } of spots) expect(median(ph)).toBeGreaterThan(2.5)
    }
  })

  test('a soil event moves every spot by about its size; the labels are where the series jumps', () => {
    const errors = cases('soil').flatMap(({ bed, event }) =>
      bed.spots.map((_, spot) => {
        const change = level(bed, spot, event.onset, 8, 20) - level(bed, spot, event.onset, -24, 0)
        return change - event.sizePh
      }),
    )
    expect(Math.abs(median(errors))).toBeLessThan(0.05)
    expect(median(errors.map(Math.abs))).toBeLessThan(0.2)
  })

  test('a probe event moves one spot and leaves the others', () => {
    const all = cases('probe')
    const change = (spotOf: (event: BedEvent) => number): number[] =>
      all.map(({ bed, event }) => {
        const spot = spotOf(event)
        return level(bed, spot, event.onset, 0, 12) - level(bed, spot, event.onset, -12, 0)
      })
    const own = change(({ spot }) => spot!)
    expect(median(own.map((moved, i) => Math.abs(moved - all[i]!.event.sizePh)))).toBeLessThan(0.1)
    expect(median(change(({ spot }) => (spot! + 1) % 3).map(Math.abs))).toBeLessThan(0.1)
  })

  test('a service event is a visit: buffers, no soil, and a lasting step', () => {
    for (const { bed, event } of cases('service')) {
      const visit = bed.visits.find(({ at, spot }) => at === event.onset && spot === event.spot)!
      expect(visit.stepPh).toBe(event.sizePh)
      const first = (event.onset - bed.startMs) / SAMPLE_MS
      const { moisture } = bed.spots[visit.spot]!
      const shown = moisture.subarray(first, first + visit.samples)
      expect([...shown].every((theta) => Number.isNaN(theta) || theta <= 0.01)).toBe(true)
    }
  })

  test('a water event wets the bed, lowers its pH and goes again', () => {
    for (const { bed, event } of cases('water')) {
      const at = (hours: number): number =>
        Math.round((event.onset + hours * HOUR - bed.startMs) / SAMPLE_MS)
      const { moisture, ph } = bed.ground
      // Into soil that rain has just filled, little more goes.
      const rise = moisture[at(2)]! - moisture[at(-1)]!
      const full = moisture[at(2)]! - bed.ground.fieldCapacity
      expect(Math.max(rise, full)).toBeGreaterThan(0.03)
      expect(ph[at(6)]! - ph[at(-1)]!).toBeLessThan(event.sizePh * 0.6)
      expect(event.returnHalfDays).toBeLessThan(4.5)
    }
  })

  test('a bed of one spot has no probe event: it could not be told', () => {
    const kinds = randomBed(77, { spots: 1, withEvents: true }).events.map(({ kind }) => kind)
    expect(kinds).not.toContain('probe')
    expect(kinds.filter((kind) => kind === 'soil')).toHaveLength(6)
  })
})

describe('further events', () => {
  const bed = randomBed(41, {
    spots: 2,
    days: 3 * 365,
    extra: Object.fromEntries(EXTRA_KINDS.map((kind) => [kind, 1])),
  })
  const the = (kind: BedEvent['kind']): BedEvent => bed.events.find((one) => one.kind === kind)!
  const truth = (at: number): number =>
    bed.ground.ph[Math.round((at - bed.startMs) / SAMPLE_MS)] ?? NaN

  test('each comes once', () => {
    expect(bed.events.map(({ kind }) => kind).toSorted()).toEqual([...EXTRA_KINDS].toSorted())
  })

  test('a ramp is complete after its days and moves the soil', () => {
    const { onset, lastingMs, sizePh } = the('ramp')
    expect(lastingMs).toBeLessThanOrEqual(30 * DAY)
    expect(Math.abs(truth(onset + lastingMs) - truth(onset - HOUR) - sizePh)).toBeLessThan(0.5)
  })

  test('a treatment acts late and slowly, and is named', () => {
    const { response, material, sizePh } = the('treatment')
    expect(material).toBe(sizePh > 0 ? 'ground limestone' : 'elemental sulfur')
    expect(response!.riseHalfDays).toBeGreaterThanOrEqual(5)
  })

  test('a controller fault shifts every probe in the same sample, leaves the soil and ends', () => {
    const { onset, lastingMs, sizePh } = the('controller fault')
    const at = Math.round((onset - bed.startMs) / SAMPLE_MS)
    for (const { ph } of bed.spots) {
      expect(Math.abs(ph[at]! - ph[at - 1]! - sizePh)).toBeLessThan(0.3)
    }
    expect(Math.abs(truth(onset + HOUR) - truth(onset - HOUR))).toBeLessThan(0.15)
    const after = level(bed, 0, onset + lastingMs, 0, 6) - level(bed, 0, onset + lastingMs, -6, 0)
    expect(Math.abs(after + sizePh)).toBeLessThan(0.3)
  })

  test('hard water raises, cold water cools', () => {
    const hard = the('hard water')
    expect(truth(hard.onset + 5 * HOUR) - truth(hard.onset - HOUR)).toBeGreaterThan(0.3)
    const cold = the('cold water')
    const at = Math.round((cold.onset - bed.startMs) / SAMPLE_MS)
    const { temperatureC } = bed.ground
    expect(temperatureC[at]! - temperatureC[at - 1]!).toBeLessThan(-8)
  })

  test('frost makes the readings flip while the soil is about freezing', () => {
    const { onset, lastingMs } = the('freezing')
    const first = Math.round((onset - bed.startMs) / SAMPLE_MS)
    const last = first + Math.round(lastingMs / SAMPLE_MS)
    const inFrost = bed.spots[0]!.ph.subarray(first, last).filter((v) => v > 0 && v < 14)
    expect(Math.max(...inFrost) - Math.min(...inFrost)).toBeGreaterThan(1)
    expect(Math.min(...bed.ground.temperatureC.subarray(first, last))).toBeLessThan(0.5)
  })

  test('a creeping death takes months and one probe only; a sagging battery spoils ever more readings', () => {
    const creep = the('creeping death')
    expect(creep.spot).not.toBeNull()
    expect(creep.lastingMs).toBeGreaterThanOrEqual(100 * DAY)
    const sag = the('battery sag')
    const spread = (fromShare: number, toShare: number): number => {
      const first = Math.round((sag.onset + fromShare * sag.lastingMs - bed.startMs) / SAMPLE_MS)
      const last = Math.round((sag.onset + toShare * sag.lastingMs - bed.startMs) / SAMPLE_MS)
      return sd([...bed.spots[sag.spot!]!.ph.subarray(first, last)].filter((v) => v > 0))
    }
    expect(spread(0.5, 0.8)).toBeGreaterThan(2 * spread(0, 0.05))
  })
})
