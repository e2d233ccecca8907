/** What packed bytes cannot be: the file was changed by something other than this program. */
export class DamagedContent extends RangeError {
  override readonly name = 'DamagedContent'
  /** As the engine calls it when it finds damage itself (SQLITE_CORRUPT), so that both are told alike. */
  readonly errcode = 11
}
