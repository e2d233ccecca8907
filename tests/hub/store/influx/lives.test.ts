import { join } from 'node:path'
import { expect, test } from 'vitest'
import { lifeOf, ownLife } from '#hub/store/influx/lives.ts'
import { migrateReadings } from '#hub/store/sqlite/migrate-readings.ts'
import { openDatabase, transact } from '#hub/store/sqlite/open-database.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

test('a row tells the process that put it there, also after a transaction that failed', () => {
  using folder = tempDir()
  const file = join(folder.path, 'readings.db')
  const db = openDatabase(file)
  try {
    migrateReadings(db, file)
    const add = db.prepare(
      `INSERT INTO undelivered (probe, low, high, n, lines) VALUES ('row1', 0, 0, 1, '')`,
    )
    const put = (say: () => void, n: number): void =>
      transact(db, () => {
        for (let i = 0; i < n; i++) {
          say()
          add.run()
        }
      })
    const find = lifeOf(db)
    expect(find(1)).toBeNull()
    const first = ownLife(db)
    put(first, 3)
    const second = ownLife(db)
    const broken = (): void =>
      transact(db, () => {
        for (let i = 0; i < 2; i++) {
          second()
          add.run()
        }
        throw new Error('full')
      })
    expect(broken).toThrow('full')
    expect(find(4)).toBe(find(1))
    put(second, 2)
    db.exec('DELETE FROM undelivered')
    // One that has nothing to put there says nothing.
    ownLife(db)
    put(ownLife(db), 1)
    const lives = [1, 2, 3, 4, 5, 6].map(find)
    expect(lives.every((life) => life !== null)).toBe(true)
    expect(lives[1]).toBe(lives[0])
    expect(lives[2]).toBe(lives[0])
    expect(lives[4]).toBe(lives[3])
    expect(new Set(lives).size).toBe(3)
    // What InfluxDB has confirmed row 5 of was told no less: whoever was before is of no use any more.
    db.exec(`INSERT INTO forwarding VALUES ('sent', 'folder 5')`)
    put(ownLife(db), 1)
    expect([1, 3].map(find)).toEqual([null, null])
    expect([4, 5, 6].map(find)).toEqual(lives.slice(3))
    expect(lives).not.toContain(find(7))
  } finally {
    db.close()
  }
})
