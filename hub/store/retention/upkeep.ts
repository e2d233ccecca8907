/** How large a store of readings is, and what of it is what. */
export interface StoreSize {
  /** On the disk, the write-ahead log included. */
  readonly bytes: number
  /** Of these: emptied, used for what comes next. */
  readonly emptyBytes: number
  /** Kept whole, each reading with its name, its time and how it came by it. */
  readonly readings: number
  /** Of all channels of the readings that are kept whole. */
  readonly values: number
  /** What these readings take, names and indexes included. */
  readonly readingBytes: number
  /** Hours of channels that stand for readings that are gone. */
  readonly hours: number
  readonly hourBytes: number
  /** Before this, epoch ms, readings of some probe are hours; null: none were ever thinned. */
  readonly thinnedTo: number | null
  /** Whether emptied space can be given back while the store is in use. */
  readonly shrinks: boolean
}

/** What thinning would do; nothing was changed. */
export interface Thinnable {
  /** Readings that would go. */
  readonly readings: number
  readonly values: number
  /** What they take now. */
  readonly bytes: number
  /** Hours of channels that would stay in their place, at most. */
  readonly hours: number
  readonly hourBytes: number
  /** Days of probes that stay as they are, because their hours would take as much as their readings. */
  readonly daysKept: number
}

export interface AtUpkeep {
  /** Ends it between two slices; what was done stays, and the store is whole. */
  readonly signal?: AbortSignal
  /** Hears the share that is done, 0 to 1. */
  readonly tell?: (share: number) => void
}

/**
 * Housekeeping of a store of readings. All of it goes in slices of some milliseconds, between which readings go on
 * being kept.
 */
export interface Upkeep {
  size(): Promise<StoreSize>
  /** `before`: epoch ms, the start of a UTC day. */
  wouldThin(before: number): Promise<Thinnable>
  /**
   * Makes hours of the readings before a moment: of every channel the low, the mean, the median, the high and their
   * count, electrical as they came, so that a calibration that is corrected later still corrects them. What each reading
   * was called is kept, so that one that comes again is known. The newest day of a probe stays as it is.
   */
  thin(
    before: number,
    at?: AtUpkeep,
  ): Promise<{
    readonly readings: number
    /** Days of probes that became hours, and those that would have been; one that gets no smaller is neither. */
    readonly days: number
    readonly of: number
  }>
  /**
   * Gives emptied space back to the disk. Resolves to the bytes given back; 0 where a file of an older hub cannot do that
   * in slices. With `whole` such a file is written anew, once: that takes as much room again, and everything else waits.
   */
  shrink(at?: AtUpkeep & { readonly whole?: boolean }): Promise<{ readonly bytes: number }>
  /** For each probe that was ever thinned: before when, epoch ms. */
  thinnedTo(): Promise<ReadonlyMap<string, number>>
}
