import { expect, test } from 'vitest'
import { HOUR } from '#hub/model/clock.ts'
import { mergedBuckets, stretches } from '#hub/store/influx/merged-buckets.ts'
import { rollUpOf } from '#hub/store/influx/roll-up-of.ts'

const nothing = async () => []

test('neighbouring hours are one stretch; many far apart are joined to a few', () => {
  const at = (hour: number) => ({ t: hour * HOUR + 5, value: 1 })
  expect(stretches([at(4), at(4), at(5), at(9)], HOUR)).toEqual([
    { from: 4 * HOUR, to: 6 * HOUR },
    { from: 9 * HOUR, to: 10 * HOUR },
  ])
  const scattered = Array.from({ length: 100 }, (_, i) => at(i * 10))
  const few = stretches(scattered, HOUR)
  expect(few.length).toBeLessThanOrEqual(8)
  for (const { t } of scattered) {
    expect(few.filter(({ from, to }) => t >= from && t < to)).toHaveLength(1)
  }
  expect(stretches([], HOUR)).toEqual([])
})

test('an hour shows its values without failures', () => {
  expect(rollUpOf([5, NaN, 1, 4, 2])).toEqual({ count: 4, min: 1, mean: 3, max: 5, median: 3 })
  expect(rollUpOf([NaN])).toEqual({ count: 0, min: NaN, mean: NaN, max: NaN, median: NaN })
  expect(rollUpOf([7])).toEqual({ count: 1, min: 7, mean: 7, max: 7, median: 7 })
})

test('what waits is read before the server is asked, and shows up once', async () => {
  const order: string[] = []
  const query = { probe: 'row1', channel: 'e1', from: 0, to: 10, step: 'raw' as const }
  const client = {
    async querySeries() {
      order.push('there')
      // Delivered in the meantime: the same moment in both.
      return [
        {
          name: 'reading',
          tags: {},
          columns: [],
          partial: false,
          values: [
            [1, 5, null],
            [2, 6, null],
          ],
        },
      ]
    },
  }
  const [raw] = await mergedBuckets(client, () => {
    order.push('here')
    return new Map([
      [
        'e1',
        [
          { t: 2, value: 6 },
          { t: 3, value: NaN },
        ],
      ],
    ])
  }, [query])
  expect(order).toEqual(['here', 'there'])
  expect([...raw!.time]).toEqual([1, 2, 3])
  expect([...raw!.mean]).toEqual([5, 6, NaN])
  expect([...raw!.count]).toEqual([1, 1, 0])
})

test('channels of a probe are asked for in one statement', async () => {
  const asked: string[] = []
  const client = {
    async querySeries(statement: string) {
      asked.push(statement)
      return []
    },
  }
  const range = { probe: 'row1', from: 0, to: 10 * HOUR, step: 'hour' as const }
  const answers = await mergedBuckets(client, () => new Map(), [
    { ...range, channel: 'e1' },
    { ...range, channel: 'm1' },
    { ...range, channel: 'e1' },
  ])
  expect(asked).toHaveLength(1)
  expect(asked[0]).toContain('median("m1")')
  expect(answers.map(({ time }) => time.length)).toEqual([0, 0, 0])
  // Each answer is one of its own: they are given away.
  expect(answers[0]).not.toBe(answers[2])
})

test('a range beyond what 64 bits of nanoseconds hold is cut there; an empty one is not asked about', async () => {
  const asked: string[] = []
  const client = {
    async querySeries(statement: string) {
      asked.push(statement)
      return []
    },
  }
  const query = { probe: 'row1', channel: 'e1', step: 'raw' as const }
  await mergedBuckets(client, () => new Map(), [{ ...query, from: -8.64e15, to: 8.64e15 }])
  expect(asked[0]).toContain('time >= -9223372036854ms AND time < 9223372036854ms')
  await mergedBuckets({ querySeries: nothing }, () => new Map(), [{ ...query, from: 5, to: 5 }])
  expect(asked).toHaveLength(1)
})
