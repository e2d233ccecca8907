/** Where packed bytes lie: their table and the row in it. */
export interface Place {
  readonly table: 'block' | 'log'
  readonly row: number
}

/** What packed bytes cannot be: the file was changed by something other than this program. */
export class DamagedContent extends RangeError {
  override readonly name = 'DamagedContent'
  /** As the engine calls it when it finds damage itself (SQLITE_CORRUPT), so that both are told alike. */
  readonly errcode = 11
  /** Null: nobody said. */
  place: Place | null = null
}

/** Unpacks bytes of a place; damage that is met there says where it is. */
export function unpackedAt<T>(place: Place | null, unpack: () => T): T {
  try {
    return unpack()
  } catch (error) {
    if (error instanceof DamagedContent) error.place = place
    throw error
  }
}
