import { expect, test } from 'vitest'
import { rollHours } from '#hub/analysis/aggregate/roll-hours.ts'
import { openStores } from '#hub/store/open.ts'
import { seededRandom } from '../../support/random.ts'
import { batchOf, sampleReading } from '../../support/sample-readings.ts'
import { tempDir } from '../../support/temp-dir.ts'

test('hours rolled up from a table are those the store makes of the same readings', async () => {
  using dir = tempDir()
  const stores = await openStores(dir.path)
  try {
    const random = seededRandom(3)
    const readings = Array.from({ length: 400 }, (_, seq) =>
      sampleReading({
        seq,
        at: 1_750_000_000_000 + seq * 700_000,
        values: { e1: random() < 0.1 ? NaN : Math.round(1000 * random()) / 10 },
      }),
    ).filter(() => random() < 0.8)
    await stores.readings.append(batchOf({ readings }))
    await stores.readings.settle()
    const [own] = await stores.readings.buckets([
      { probe: 'row1', channel: 'e1', from: 0, to: Infinity, step: 'hour' },
    ])
    const rolled = rollHours(
      Float64Array.from(readings, (r) => r.at),
      Float64Array.from(readings, (r) => r.values[0]!.value),
    )
    expect(rolled.time).toEqual(own!.time)
    expect(rolled.count).toEqual(own!.count)
    for (const name of ['min', 'max', 'median'] as const) expect(rolled[name]).toEqual(own![name])
    for (const [i, mean] of own!.mean.entries()) {
      if (Number.isNaN(mean)) expect(rolled.mean[i]).toBeNaN()
      else expect(rolled.mean[i]).toBeCloseTo(mean, 10)
    }
    expect(rolled.time.length).toBeGreaterThan(50)
  } finally {
    await stores.close()
  }
})
