import { expect, test } from 'vitest'
import { openJobs } from '#hub/jobs/open-jobs.ts'
import { openStores } from '#hub/store/open.ts'
import { wireStorage } from '#hub/assembly/wire-storage.ts'
import { seededRandom } from '#tests/support/random.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

const DAY = 86_400_000
const YEAR = 365 * DAY
/** Three at night, UTC. */
const NIGHT = 1_750_042_800_000
const READINGS = 5000
const fail = (error: unknown): never => {
  throw error
}

test('a clock that jumped years ahead turns no readings into hours; one that goes on steadily does', async () => {
  using folder = tempDir()
  const stores = await openStores(folder.path)
  const { garden, readings } = stores
  let now = NIGHT
  const clock = (): number => now
  const said: string[] = []
  const random = seededRandom(7)
  const jobs = openJobs({ clock, onChange: () => undefined, onFatal: fail })
  const storage = wireStorage({
    dataDir: folder.path,
    garden,
    readings,
    clock,
    jobs,
    log: { warn: () => undefined, info: (text: string) => void said.push(text) },
    onFatal: fail,
  })
  try {
    await garden.setRetention({ rawMonths: 3, decidedAt: NIGHT })
    await readings.append(
      batchOf({
        readings: Array.from({ length: READINGS }, (_, seq) =>
          sampleReading({
            seq,
            at: NIGHT - 5 * DAY + seq * 60_000,
            values: { e1: Math.round(random() * 4e5) / 16, m1: Math.floor(random() * 4096) },
          }),
        ),
      }),
    )
    await readings.settle()
    for (let day = 0; day < 6; day++) {
      await storage.look()
      now += DAY
    }
    now = NIGHT + 3 * YEAR
    await storage.look()
    expect(said).toEqual([])
    const query = { probe: 'row1', channel: 'e1', from: 0, to: 9e15, step: 'raw' as const }
    expect((await readings.buckets([query]))[0]!.time).toHaveLength(READINGS)
    // Years later, indeed.
    for (let day = 0; day < 6; day++) {
      now += DAY
      await storage.look()
    }
    expect(said).toEqual([expect.stringMatching(/^\d+ readings older than 3 months became hours/)])
  } finally {
    storage.stop()
    await jobs.stop()
    await stores.close()
  }
})
