/** Where packed bytes lie: what they are, and the row of them; hours lie with a block. */
export interface Place {
  readonly table: 'block' | 'log' | 'hours'
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

/** What `open` makes of bytes; null when they are damaged, which `met` hears. */
export function unlessDamaged<T>(open: () => T, met: () => void = () => {}): T | null {
  try {
    return open()
  } catch (error) {
    if (!(error instanceof DamagedContent)) throw error
    met()
    return null
  }
}
