import { describe, expect, test } from 'vitest'
import { indexedNoise, nameHash, seededRandom } from '#hub/simulator/random.ts'

test('names are hashed as FNV-1a does', () => {
  // Published test values of the 32-bit FNV-1a (Fowler, Noll, Vo; recalled): '', 'a', 'foobar'.
  expect(nameHash('')).toBe(0x811c9dc5)
  expect(nameHash('a')).toBe(0xe40c292c)
  expect(nameHash('foobar')).toBe(0xbf9cf968)
})

/** Sample moments of 40 000 draws; tolerances are four standard errors. */
function moments(draw: (i: number) => number): { mean: number; variance: number } {
  const n = 40_000
  const values = Array.from({ length: n }, (_, i) => draw(i))
  const mean = values.reduce((a, b) => a + b, 0) / n
  const variance = values.reduce((a, b) => a + (b - mean) ** 2, 0) / (n - 1)
  return { mean, variance }
}

describe('a seeded stream', () => {
  const random = seededRandom(5)
  test.each([
    ['uniform', () => random.uniform(), 1 / 2, 1 / 12, 0.006, 0.0016],
    ['normal', () => random.normal(), 0, 1, 0.02, 0.029],
    ['exponential of mean 6', () => random.exponential(6), 6, 36, 0.12, 2.1],
  ])('%s has the mean and variance of its distribution', (_, draw, mean, variance, tm, tv) => {
    const seen = moments(draw)
    expect(Math.abs(seen.mean - mean)).toBeLessThan(tm)
    expect(Math.abs(seen.variance - variance)).toBeLessThan(tv)
  })

  test('two splits do not share a pattern', () => {
    const a = seededRandom(5).split('kettle1')
    const b = seededRandom(5).split('kettle2')
    const n = 40_000
    let sum = 0
    for (let i = 0; i < n; i++) sum += a.normal() * b.normal()
    expect(Math.abs(sum / n)).toBeLessThan(4 / Math.sqrt(n))
  })

  test('a split does not feel what was drawn before it', () => {
    const fresh = seededRandom(5).split('rain')
    const used = seededRandom(5)
    for (let i = 0; i < 17; i++) used.uniform()
    used.split('wind').normal()
    const late = used.split('rain')
    expect([late.uniform(), late.normal()]).toEqual([fresh.uniform(), fresh.normal()])
  })

  test('another seed is another garden', () => {
    expect(seededRandom(5).uniform()).not.toBe(seededRandom(6).uniform())
  })
})

describe('noise by index', () => {
  test('consecutive seconds are standard normal and uncorrelated', () => {
    const noise = indexedNoise(1, 'emf')
    const from = 1_790_000_000
    const seen = moments((i) => noise.normal(from + i))
    expect(Math.abs(seen.mean)).toBeLessThan(0.02)
    expect(Math.abs(seen.variance - 1)).toBeLessThan(0.029)
    const n = 40_000
    for (const lag of [1, 5, 900, 3600]) {
      let sum = 0
      for (let i = 0; i < n; i++) sum += noise.normal(from + i) * noise.normal(from + i + lag)
      expect(Math.abs(sum / n), `lag ${lag} s`).toBeLessThan(4 / Math.sqrt(n))
    }
  })

  test('any order gives the same value', () => {
    const one = indexedNoise(1, 'emf')
    const two = indexedNoise(1, 'emf')
    const forward = [10, 11, 12].map((i) => one.normal(i))
    const backward = [12, 11, 10].map((i) => two.normal(i)).toReversed()
    expect(backward).toEqual(forward)
  })
})
