import type { Photo } from '../../model/plan.ts'
import { rowOf, rowsOf } from './open-database.ts'
import type { Database } from './open-database.ts'

/** Pictures of journal entries, one an entry. */
export function gardenPhotos(db: Database) {
  const ofBed = db.prepare(
    'SELECT entry FROM photo JOIN journal ON journal.id = photo.entry WHERE bed = ? ORDER BY entry',
  )
  const find = db.prepare('SELECT entry AS entryId, type, bytes FROM photo WHERE entry = ?')
  const set = db.prepare(
    `INSERT INTO photo (entry, type, bytes) SELECT id, ?2, ?3 FROM journal WHERE id = ?1
     ON CONFLICT (entry) DO UPDATE SET type = ?2, bytes = ?3`,
  )
  const drop = db.prepare('DELETE FROM photo WHERE entry = ?')

  return {
    photos: (bedId: number): number[] =>
      rowsOf<{ entry: number }>(ofBed, bedId).map(({ entry }) => entry),
    photo: (entryId: number): Photo | null => rowOf<Photo>(find, entryId),
    setPhoto: ({ entryId, type, bytes }: Photo): boolean =>
      set.run(entryId, type, bytes).changes === 1,
    removePhoto: (entryId: number): boolean => drop.run(entryId).changes === 1,
  }
}
