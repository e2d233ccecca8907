import fc from 'fast-check'
import { expect, test } from 'vitest'
import { leastSquares } from '#hub/analysis/stats/least-squares.ts'
import { refineSeparable, type SeparableModel } from '#hub/analysis/stats/refine-separable.ts'
import { separableFit } from '#hub/analysis/stats/separable-fit.ts'
import { whitener } from '#hub/analysis/stats/whitener.ts'
import { NILE } from './nile.ts'
import { ar1Series, normalDraws } from './normal-draws.ts'

const grid = (low: number, high: number, count: number): number[] =>
  Array.from({ length: count }, (_, i) => low * (high / low) ** (i / (count - 1)))

interface Certified {
  readonly name: string
  readonly x: readonly number[]
  readonly y: readonly number[]
  /** Columns of one theta. */
  readonly curve: (theta: number, x: number) => number
  readonly thetas: readonly number[]
  readonly amplitude: number
  readonly theta: number
  readonly sse: number
  /** Standard deviations of amplitude and theta. */
  readonly sd: readonly [number, number]
  readonly digits: number
}

// NIST Statistical Reference Datasets, nonlinear regression: data and certified values from memory; the fits below
// agree to all certified digits asked for, which wrong data would not. BOD: data set of R (Bates and Watts 1988),
// nls in R 4.2.2 run to its own tolerance.
const rise = (rate: number, x: number): number => 1 - Math.exp(-rate * x)
const CERTIFIED: readonly Certified[] = [
  {
    name: 'Misra1a',
    x: [
      77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1,
      760.0,
    ],
    y: [
      10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.4, 75.47,
      81.78,
    ],
    curve: rise,
    thetas: grid(1e-5, 1e-2, 30),
    amplitude: 238.94212918,
    theta: 5.5015643181e-4,
    sse: 0.12455138894,
    sd: [2.7070075241, 7.2668688436e-6],
    digits: 9,
  },
  {
    name: 'BoxBOD',
    x: [1, 2, 3, 5, 7, 10],
    y: [109, 149, 149, 191, 213, 224],
    curve: rise,
    thetas: grid(0.01, 10, 30),
    amplitude: 213.80940889,
    theta: 0.54723748542,
    sse: 1168.0088766,
    sd: [12.354515176, 0.10455993237],
    digits: 9,
  },
  {
    name: 'DanWood',
    x: [1.309, 1.471, 1.49, 1.565, 1.611, 1.68],
    y: [2.138, 3.421, 3.597, 4.34, 4.882, 5.66],
    curve: (power, x) => x ** power,
    thetas: grid(0.5, 10, 20),
    amplitude: 0.76886226176,
    theta: 3.8604055871,
    sse: 4.3173084083e-3,
    sd: [0.01828197386, 0.051726610913],
    digits: 9,
  },
  {
    name: 'BOD',
    x: [1, 2, 3, 4, 5, 7],
    y: [8.3, 10.3, 19, 16, 15.6, 19.8],
    curve: (logRate, x) => rise(Math.exp(logRate), x),
    thetas: [-3, -2, -1, -0.5, 0.2, 1],
    amplitude: 19.1425769753,
    theta: -0.632821493287,
    sse: 25.9902672819,
    sd: [2.4959181273, 0.382386372961],
    digits: 5,
  },
]

test.for(CERTIFIED)('$name: from the best grid node to the certified values', (one) => {
  const y = Float64Array.from(one.y)
  const model: SeparableModel = ([theta]) => [Float64Array.from(one.x, (x) => one.curve(theta!, x))]
  const nodes = one.thetas.map((theta) => ({ theta: [theta], columns: model([theta]) }))
  const coarse = separableFit([], nodes, y)
  const fine = refineSeparable(model, nodes[coarse.best]!.theta, y)
  expect(fine.theta[0]! / one.theta).toBeCloseTo(1, one.digits)
  expect(fine.amplitude[0]! / one.amplitude).toBeCloseTo(1, one.digits)
  expect(fine.sse / one.sse).toBeCloseTo(1, 9)
  const variance = fine.sse / (y.length - 2)
  expect(Math.sqrt(variance * fine.inverse[3]!) / one.sd[0]).toBeCloseTo(1, 5)
  expect(Math.sqrt(variance * fine.inverse[0]!) / one.sd[1]).toBeCloseTo(1, 5)
  // The grid can only be worse than the minimum, and the minimum's neighbours are among those the data allow.
  expect(coarse.fits[coarse.best]!.sse).toBeGreaterThanOrEqual(fine.sse * (1 - 1e-12))
  expect(coarse.fits.filter(({ sse }) => sse <= coarse.limit).length).toBeGreaterThan(0)
})

// NIST Lanczos3 (from memory): 24 points of three exponentials to four decimals; three rates, notoriously ill-conditioned.
test('three exponentials at once come out as certified', () => {
  const x = Float64Array.from({ length: 24 }, (_, i) => 0.05 * i)
  // prettier-ignore
  const y = Float64Array.of(2.5134, 2.0443, 1.6684, 1.3664, 1.1232, 0.9269, 0.7679, 0.6389, 0.5338, 0.4479, 0.3776,
    0.3197, 0.272, 0.2325, 0.1997, 0.1723, 0.1493, 0.1301, 0.1138, 0.1, 0.0883, 0.0783, 0.0698, 0.0624)
  const model: SeparableModel = (rates) => rates.map((rate) => x.map((v) => Math.exp(-rate * v)))
  const nodes = [0.7, 1, 1.4].flatMap((a) =>
    [2, 3, 4].flatMap((b) =>
      [4.8, 5.5, 7].map((c) => ({ theta: [a, b, c], columns: model([a, b, c]) })),
    ),
  )
  const coarse = separableFit([], nodes, y)
  const fine = refineSeparable(model, nodes[coarse.best]!.theta, y)
  const rates = [0.95498101505, 2.9515951832, 4.9863565084]
  const amplitudes = [0.086816414977, 0.84400777463, 1.5825685901]
  for (const k of [0, 1, 2]) {
    expect(fine.theta[k]! / rates[k]!).toBeCloseTo(1, 5)
    expect(fine.amplitude[k]! / amplitudes[k]!).toBeCloseTo(1, 5)
  }
  expect(fine.sse / 1.6117193594e-8).toBeCloseTo(1, 6)
})

// Cobb 1978; R package strucchange 1.5.3: one break after 1898, means 1097.75 and 849.97, supF 75.93.
test('the break of the Nile is after its 28th year', () => {
  const nodes = Array.from({ length: 70 }, (_, i) => ({
    theta: [15 + i],
    columns: [NILE.map((_flow, year) => (year >= 15 + i ? 1 : 0))],
  }))
  const level = [new Float64Array(100).fill(1)]
  const fit = separableFit(level, nodes, NILE)
  const best = fit.fits[fit.best]!
  expect(nodes[fit.best]!.theta).toEqual([28])
  expect(best.sse).toBeCloseTo(1597457.19444444, 5)
  expect(best.amplitude[0]).toBeCloseTo(849.972222222222 - 1097.75, 9)
  const without = leastSquares(level, NILE).sse
  expect(without).toBeCloseTo(2835156.75, 5)
  expect((without - best.sse) / (best.sse / 98)).toBeCloseTo(75.9297694274854, 8)
})

test('every node is what least squares with all columns gives, correlated errors included', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 1, max: 1e9 }),
      fc.constantFrom(1, 2),
      fc.double({ min: 0, max: 0.95, noNaN: true }),
      (seed, amplitudes, rho) => {
        const draw = normalDraws(seed)
        const n = 60
        const step = Float64Array.from({ length: n }, (_, i) => i + Math.floor(i / 20))
        const column = (): Float64Array => Float64Array.from({ length: n }, draw)
        const shared = [new Float64Array(n).fill(1), step.map((s) => s / 10)]
        const nodes = Array.from({ length: 5 }, (_, i) => ({
          theta: [i],
          columns: Array.from({ length: amplitudes }, column),
        }))
        const y = column()
        const fit = separableFit(shared, nodes, y, { whitening: { step, rho } })
        let least = Infinity
        for (const [i, node] of nodes.entries()) {
          const white = whitener(step, rho)
          const all = leastSquares([...shared, ...node.columns].map(white), white(y))
          const got = fit.fits[i]!
          expect(got.sse).toBeCloseTo(all.sse, 8)
          least = Math.min(least, all.sse)
          const p = 2 + amplitudes
          for (let k = 0; k < amplitudes; k++) {
            expect(got.amplitude[k]).toBeCloseTo(all.beta[2 + k]!, 8)
            const own = all.inverse[(2 + k) * p + 2 + k]!
            expect(got.inverse[k * amplitudes + k]).toBeCloseTo(own, 8)
          }
        }
        expect(fit.fits[fit.best]!.sse).toBeCloseTo(least, 8)
      },
    ),
    { seed: 31, numRuns: 40 },
  )
})

// A rise of known speed in correlated noise: the nodes within the limit must hold the true one in about 95 of 100 runs.
test('the nodes the data allow hold the truth as often as they say', () => {
  const n = 100
  const runs = 200
  const step = Float64Array.from({ length: n }, (_, i) => i)
  const shared = [new Float64Array(n).fill(1)]
  const nodes = grid(2, 50, 41).map((theta) => ({
    theta: [theta],
    columns: [step.map((s) => (s < 20 ? 0 : rise(1 / theta, s - 20)))],
  }))
  const truth = 20
  const draw = normalDraws(408)
  let held = 0
  for (let run = 0; run < runs; run++) {
    const noise = ar1Series(draw, n, 0.5, 0.15)
    const y = nodes[truth]!.columns[0]!.map((v, i) => 6 + 0.8 * v + noise[i]!)
    const fit = separableFit(shared, nodes, y, { whitening: { step, rho: 0.5 } })
    if (fit.fits[truth]!.sse <= fit.limit) held++
  }
  expect(held / runs).toBeGreaterThan(0.95 - 3 * Math.sqrt((0.95 * 0.05) / runs))
})

test('a node that says nothing beside the shared columns is known as such', () => {
  const y = Float64Array.of(1, 2, 4, 4, 6)
  const ones = new Float64Array(5).fill(1)
  const step = Float64Array.of(0, 0, 0, 1, 1)
  const fit = separableFit(
    [ones],
    [
      { theta: [0], columns: [ones.map(() => 3)] },
      { theta: [1], columns: [step] },
    ],
    y,
  )
  expect(fit.fits[0]!.amplitude[0]).toBeNaN()
  expect(fit.fits[0]!.sse).toBeCloseTo(leastSquares([ones], y).sse, 12)
  expect(fit.best).toBe(1)
  expect(() => separableFit([ones], [], y)).toThrow('at least one node')
  expect(() =>
    separableFit([ones], [{ theta: [1], columns: [step.slice(0, 3)] }], y.slice(0, 3)),
  ).toThrow('3 parameters')
})
