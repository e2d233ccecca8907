import { expect, test } from 'vitest'
import { normalCdf, studentQuantile, twoSidedP, Z } from '#hub/analysis/stats/distributions.ts'
import { fQuantile } from '#hub/analysis/stats/f-quantile.ts'
import { mad } from '#hub/analysis/stats/mad.ts'
import { normalQuantile } from '#hub/analysis/stats/normal-quantile.ts'
import { quantile } from '#hub/analysis/stats/quantile.ts'
import { tQuantile } from '#hub/analysis/stats/t-quantile.ts'
import { NILE } from './nile.ts'

/** Nothing below is rounded more coarsely than this. */
const CLOSE = 1e-10

function expectShare(got: number, want: number, share: number): void {
  expect(Math.abs(got - want), `${got} against ${want}`).toBeLessThanOrEqual(share * Math.abs(want))
}

// Printed tables of Student's t (for instance Handbook of Mathematical Functions 1964, table 26.10, from memory).
test.for([
  [1, 12.706],
  [2, 4.303],
  [3, 3.182],
  [5, 2.571],
  [10, 2.228],
  [30, 2.042],
  [120, 1.98],
] as const)('t of 0.975 and %i degrees of freedom is %f as printed', ([freedom, printed]) => {
  expect(Math.abs(tQuantile(0.975, freedom) - printed)).toBeLessThan(0.0006)
})

// R 4.2.2, qt.
test.for([
  [1, 3.07768353718, 12.7062047362, 63.6567411629],
  [1.5, 2.19639841757, 6.01666310443, 17.8203105145],
  [3, 1.6377443537, 3.18244630528, 5.84090930973],
  [10, 1.37218364111, 2.22813885199, 3.16927267262],
  [100, 1.29007476135, 1.98397151852, 2.62589052144],
  [1e5, 1.28156003145, 1.95998770753, 2.57587846991],
] as const)('t quantiles with %f degrees of freedom agree with R', ([freedom, ...want]) => {
  for (const [i, p] of [0.9, 0.975, 0.995].entries()) {
    const share = freedom > 1000 ? 1e-9 : CLOSE
    expectShare(tQuantile(p, freedom), want[i]!, share)
    expectShare(tQuantile(1 - p, freedom), -want[i]!, share)
  }
})

// R 4.2.2, qf; the printed tables have 161.4, 6.61, 4.10, 2.65, 2.35 at 0.95.
test.for([
  [1, 1, 1, 161.447638798, 4052.18069548],
  [1, 5, 0.528073768953, 6.6078909737, 16.2581770398],
  [1, 50, 0.461622679399, 4.0343097068, 7.1705768019],
  [2, 10, 0.743491774985, 4.10282101513, 7.55943215755],
  [3, 200, 0.791357245653, 2.6497516434, 3.88102177262],
  [10, 20, 0.966263888593, 2.347877567, 3.36818638919],
] as const)('F quantiles with %i and %i degrees of freedom agree with R', ([d1, d2, ...want]) => {
  for (const [i, p] of [0.5, 0.95, 0.99].entries()) {
    expectShare(fQuantile(p, d1, d2), want[i]!, CLOSE)
  }
})

test('the square of t is F with one degree of freedom above', () => {
  for (const freedom of [1, 2.5, 7, 40]) {
    expectShare(tQuantile(0.975, freedom) ** 2, fQuantile(0.95, 1, freedom), CLOSE)
  }
})

// R 4.2.2, pnorm.
test.for([
  [-8, 6.22096057427e-16],
  [-3, 0.00134989803163],
  [-1, 0.158655253931],
  [-0.1, 0.460172162723],
  [0.5, 0.691462461274],
  [2.9, 0.9981341867],
  [3.1, 0.999032396787],
] as const)('the normal distribution at %f agrees with R, far tail included', ([x, want]) => {
  expectShare(normalCdf(x), want, 1e-9)
})

test('the normal distribution has no seam where the method changes', () => {
  for (const seam of [-3, 3]) {
    const slope = (normalCdf(seam + 1e-6) - normalCdf(seam - 1e-6)) / 2e-6
    expectShare(slope, Math.exp(-4.5) / Math.sqrt(2 * Math.PI), 1e-6)
  }
  expect(normalCdf(0)).toBe(0.5)
})

// R 4.2.2, qnorm.
test.for([
  [1e-10, -6.3613409024],
  [0.001, -3.09023230617],
  [0.025, -1.95996398454],
  [0.9, 1.28155156554],
] as const)('the normal quantile of %f is %f', ([p, want]) => {
  expectShare(normalQuantile(p), want, CLOSE)
  expectShare(normalQuantile(1 - p), -want, p < 1e-6 ? 1e-8 : CLOSE)
  expectShare(twoSidedP(normalQuantile(p)), 2 * Math.min(p, 1 - p), CLOSE)
})

test('the quick expansion of t is within a thousandth from five degrees of freedom on', () => {
  for (const freedom of [5, 8, 9, 20, 200]) {
    const exact = tQuantile(0.975, freedom)
    expect(Math.abs(studentQuantile(Z.two95, freedom) - exact)).toBeLessThan(0.001)
  }
})

test.for([0, 1, -0.1, 1.5, NaN])('a probability of %f has no quantile', (p) => {
  expect(() => tQuantile(p, 5)).toThrow(RangeError)
  expect(() => fQuantile(p, 1, 5)).toThrow(RangeError)
  expect(() => normalQuantile(p)).toThrow(RangeError)
})

test.for([0, -1, NaN, Infinity])('%f degrees of freedom are refused', (freedom) => {
  expect(() => tQuantile(0.9, freedom)).toThrow('degrees of freedom must be positive')
  expect(() => fQuantile(0.9, 1, freedom)).toThrow('degrees of freedom must be positive')
})

// R 4.2.2: quantile(Nile, c(.1, .25, .5, .975), type = 7) and mad(Nile).
test('quantiles and median absolute deviation of the Nile flow agree with R', () => {
  const sorted = NILE.toSorted()
  for (const [p, want] of [
    [0, 456],
    [0.1, 725.2],
    [0.25, 798.5],
    [0.5, 893.5],
    [0.975, 1240.5],
    [1, 1370],
  ] as const) {
    expect(quantile(sorted, p)).toBeCloseTo(want, 9)
  }
  expect(mad(NILE)).toBeCloseTo(179.3946, 9)
})

test('nothing has no quantile and no spread; gaps are left out of the spread', () => {
  expect(quantile([], 0.5)).toBeNaN()
  expect(mad([])).toBeNaN()
  expect(mad([NaN, 1, 2, NaN, 3])).toBeCloseTo(1.4826, 9)
})
