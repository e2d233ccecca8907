import { expect, test } from 'vitest'
import { thin } from '#hub/analysis/aggregate/thin.ts'
import { emptyBuckets, type Buckets } from '#hub/model/series.ts'
import { seededRandom } from '../../support/random.ts'

const HOUR = 3_600_000

function hours(n: number): Buckets {
  const random = seededRandom(7)
  const buckets = emptyBuckets('hour', n)
  for (let i = 0; i < n; i++) {
    const mean = 100 * random()
    buckets.time[i] = i * HOUR
    buckets.count[i] = 1 + Math.floor(random() * 8)
    buckets.mean[i] = mean
    buckets.median[i] = mean
    buckets.min[i] = mean - random()
    buckets.max[i] = mean + random()
  }
  return buckets
}

test('few rows come back as they are', () => {
  const few = hours(10)
  expect(thin(few, 10)).toBe(few)
  expect(thin(emptyBuckets('raw', 0), 10).time).toHaveLength(0)
})

test('no reading, no extreme and no mean is lost', () => {
  const many = hours(1000)
  const thinned = thin(many, 60)
  expect(thinned.time.length).toBeGreaterThan(50)
  expect(thinned.time.length).toBeLessThanOrEqual(61)
  const sum = (column: Float64Array): number => column.reduce((a, b) => a + b, 0)
  expect(sum(thinned.count)).toBe(sum(many.count))
  expect(Math.min(...thinned.min)).toBe(Math.min(...many.min))
  expect(Math.max(...thinned.max)).toBe(Math.max(...many.max))
  const weighted = (b: Buckets): number => sum(b.mean.map((mean, i) => mean * b.count[i]!))
  expect(weighted(thinned)).toBeCloseTo(weighted(many), 6)
  expect(thinned.time).toEqual(thinned.time.toSorted())
})

test('a stretch in which every try failed stays missing, and silence stays silent', () => {
  const many = hours(100)
  for (let i = 40; i < 60; i++) {
    many.count[i] = 0
    for (const column of [many.mean, many.median, many.min, many.max]) column[i] = NaN
  }
  const thinned = thin(many, 10)
  const missing = Array.from(thinned.mean).filter((v) => Number.isNaN(v))
  expect(missing).toHaveLength(2)
})
