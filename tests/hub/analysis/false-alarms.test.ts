import { expect, test } from 'vitest'
import { assessed } from '#tests/support/watched.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import { seededRandom } from '#tests/support/random.ts'
import { NOW, type ProbeRows, bed, series, soil } from './case.ts'

const EVERY = 15 * MINUTE

/** A bed with so many spots, each of its own level, noise and swing, under one season. */
function quietBed(
  seed: number,
  spots: number,
  extra: (at: number, spot: number) => number = () => 0,
  until = NOW,
): ProbeRows[] {
  const random = seededRandom(seed)
  const season = 0.03 + 0.22 * random()
  const seasonPhase = 2 * Math.PI * random()
  const level = 5.2 + 2 * random()
  const swing = 0.1 * random()
  return Array.from({ length: spots }, (_, spot) => ({
    spot: `spot ${spot + 1}`,
    ph: soil({
      random,
      from: NOW - 46 * DAY,
      to: until,
      everyMs: EVERY,
      level: level + 0.4 * (random() - 0.5),
      noise: 0.05 + 0.07 * random(),
      swing,
      season,
      seasonPhase,
      extra: (at) => extra(at, spot),
    }),
  }))
}

test('60 quiet beds raise no shift at four times of a day', () => {
  let early = 0
  let apart = 0
  let looks = 0
  for (let seed = 1; seed <= 60; seed++) {
    const probes = quietBed(seed, 2 + (seed % 3))
    for (const back of [0, 6, 12, 18]) {
      const at = NOW - back * HOUR
      const cut = probes.map((p) => ({ ...p, ph: p.ph.filter((row) => row.at <= at) }))
      const { shift, probes: findings } = assessed(bed(), series(cut, at), [], at)
      looks++
      expect(shift?.grade, `seed ${seed}, ${back} h back`).not.toBe('harmful')
      if (shift !== null) early++
      apart += findings.filter(({ kind }) => kind === 'apart from the bed').length
    }
  }
  expect(looks).toBe(240)
  // A spread of 0.12 within a day is a lot; still hardly ever enough for a word.
  expect(early, 'early warnings in 240 looks at quiet beds').toBe(0)
  expect(apart, 'probes called apart in 240 looks').toBe(0)
}, 120_000)

test('50 shifts of 1.3 to 2 pH on 2 to 4 spots are all found within 3 hours', () => {
  const delays: number[] = []
  const sizeErrors: number[] = []
  for (let seed = 1001; seed <= 1050; seed++) {
    const random = seededRandom(seed * 7)
    const size = (1.3 + 0.7 * random()) * (random() < 0.5 ? -1 : 1)
    const began = NOW - 3 * HOUR
    const answers = Array.from({ length: 4 }, () => 0.88 + 0.24 * random())
    const probes = quietBed(seed, 2 + (seed % 3), (at, spot) =>
      at >= began ? size * answers[spot]! : 0,
    )
    let found: number | null = null
    for (let at = began + EVERY; at <= NOW && found === null; at += EVERY) {
      const cut = probes.map((p) => ({ ...p, ph: p.ph.filter((row) => row.at <= at) }))
      const { shift } = assessed(bed(), series(cut, at), [], at)
      if (shift?.grade !== 'harmful') continue
      found = at - began
      sizeErrors.push(Math.abs(shift.change - size))
      expect(Math.sign(shift.change), `seed ${seed}`).toBe(Math.sign(size))
      expect(Math.abs(shift.since - began), `seed ${seed}: since`).toBeLessThanOrEqual(HOUR)
    }
    expect(found, `seed ${seed}: a shift of ${size.toFixed(2)} was not found`).not.toBeNull()
    delays.push(found! / MINUTE)
  }
  delays.sort((a, b) => a - b)
  sizeErrors.sort((a, b) => a - b)
  expect(delays[25], 'median delay, minutes').toBeLessThanOrEqual(45)
  expect(delays.at(-1), 'longest delay, minutes').toBeLessThanOrEqual(60)
  expect(sizeErrors[25], 'median error of the size at first sight, pH').toBeLessThanOrEqual(0.1)
}, 120_000)

test('a fault of a single probe never raises a harmful shift and is told as a probe check', () => {
  let told = 0
  let asked = 0
  for (let seed = 2001; seed <= 2050; seed++) {
    const random = seededRandom(seed * 7)
    const size = (0.9 + 1.6 * random()) * (random() < 0.5 ? -1 : 1)
    const began = NOW - 9 * HOUR
    const slow = seed % 2 === 0
    const probes = quietBed(seed, 2 + (seed % 3), (at, spot) =>
      spot !== 0
        ? 0
        : slow
          ? (size * Math.max(0, at - (NOW - 15 * DAY))) / (15 * DAY)
          : at >= began
            ? size
            : 0,
    )
    for (const back of [8, 4, 0]) {
      const at = NOW - back * HOUR
      const cut = probes.map((p) => ({ ...p, ph: p.ph.filter((row) => row.at <= at) }))
      const { shift, probes: findings } = assessed(bed(), series(cut, at), [], at)
      expect(shift?.grade, `seed ${seed}, ${back} h back`).not.toBe('harmful')
      if (back > 0) continue
      asked++
      const apart = findings.filter(({ kind }) => kind === 'apart from the bed')
      expect(apart.map(({ probe }) => probe).filter((p) => p !== 'probe1')).toEqual([])
      told += apart.length
    }
  }
  expect(asked).toBe(50)
  expect(told, 'of 50 faults told as a probe apart from its bed').toBeGreaterThanOrEqual(47)
}, 120_000)
