import { migrate } from './migrate.ts'
import { openDatabase, rowOf, rowsOf, transact } from './open-database.ts'
import { serve } from './serve.ts'
import { DAY } from '../../model/clock.ts'
import type { Cursor } from '../cursor-store.ts'

function openCursors(file: string, readings: string) {
  const db = openDatabase(file)
  migrate(db, new URL('../migrations/cursors/', import.meta.url), file)
  const owner = rowOf<{ id: string }>(db.prepare('SELECT id FROM owner'))?.id
  if (owner !== readings) {
    transact(db, () => {
      db.exec('DELETE FROM cursor; DELETE FROM day_end; DELETE FROM owner')
      db.prepare('INSERT INTO owner VALUES (?)').run(readings)
    })
  }
  const all = db.prepare('SELECT writer, spool, row FROM cursor')
  const keep = db.prepare('INSERT OR REPLACE INTO cursor VALUES (?, ?, CAST(? AS INT), ?)')
  const keepDay = db.prepare('INSERT OR REPLACE INTO day_end VALUES (?, ?, ?, CAST(? AS INT))')
  const before = db.prepare(
    'SELECT writer, spool, max(row) AS row FROM day_end WHERE day + ? <= ? GROUP BY writer, spool',
  )
  const forget = db.prepare('DELETE FROM day_end WHERE day + ? <= ?')
  const forgetUpTo = (at: number): void => void forget.run(DAY, at - DAY)

  return {
    all: (): Cursor[] => rowsOf<Cursor>(all),
    keep(cursors: readonly Cursor[], at: number): void {
      const day = Math.floor(at / DAY) * DAY
      transact(db, () => {
        for (const { writer, spool, row } of cursors) {
          keep.run(writer, spool, row, at)
          keepDay.run(writer, spool, day, row)
        }
      })
    },
    takenBefore(at: number): Cursor[] {
      const cursors = rowsOf<Cursor>(before, DAY, at)
      forgetUpTo(at)
      return cursors
    },
    close: (): void => db.close(),
  }
}

export type CursorApi = ReturnType<typeof openCursors>

serve<{ readonly file: string; readonly readings: string }>(({ file, readings }) =>
  openCursors(file, readings),
)
