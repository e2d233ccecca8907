import { join } from 'node:path'
import { DatabaseSync } from 'node:sqlite'
import { expect, test } from 'vitest'
import { openStores } from '#hub/store/open.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

const AT = 1_750_000_000_000

test('readings stored by the version before are accounted for, the unsettled ones too', async () => {
  using folder = tempDir()
  const before = await openStores(folder.path)
  const mark = { probe: 'row1', boot: 1, top: 0, lost: 0, missing: 0, highest: 0, lastAt: AT }
  await before.readings.append(
    batchOf({
      readings: [
        sampleReading({ seq: 0, at: AT }),
        sampleReading({ seq: 3, at: AT, arrivedAt: AT + 9, placedBy: 'anchors' }),
        sampleReading({ seq: 0, at: AT, values: { e1: 5 } }),
      ],
      marks: [mark],
    }),
  )
  await before.readings.settle()
  const after = await before.readings.accounts('row1')
  await before.close()
  const db = new DatabaseSync(join(folder.path, 'readings.db'))
  db.exec(`DROP TABLE account; ALTER TABLE mark DROP COLUMN missing;
    ALTER TABLE mark DROP COLUMN highest; PRAGMA user_version = 1`)
  // A reading that had not been settled when the version before ended.
  db.exec(`INSERT INTO log (probe, boot, seq, uptime, at, placed_by, arrived_at, flags, vals)
    SELECT 'row1', 1, 6, 9, ${AT}, 0, ${AT}, 0, x''`)
  db.close()
  const again = await openStores(folder.path)
  try {
    const [account] = await again.readings.accounts('row1')
    expect(account).toEqual({
      ...after[0],
      received: 3,
      // 1, 2, 4 and 5.
      missing: 4,
      placed: { arrival: 2, device: 0, anchors: 1, bounded: 0, file: 0 },
    })
    expect(account).toMatchObject({ conflicting: 1, late: 1, lost: 0 })
    const { mark: kept } = await again.readings.recall('row1', 1)
    expect(kept).toMatchObject({ top: 0, highest: 6, missing: 4 })
  } finally {
    await again.close()
  }
})
