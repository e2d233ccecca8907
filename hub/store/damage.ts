/** Bytes of readings that were changed on the disk by something other than the hub, put aside as they were found. */
export interface DamagedPart {
  readonly id: number
  /** When they were met, epoch ms. */
  readonly metAt: number
  /**
   * `batch`: readings that waited in the log, of nobody knows which probes. `readings`: of one probe, from and to. `names`:
   * of a day that had become hours, by which a reading that comes again is known. `hours`: what stood for such a day.
   */
  readonly what: 'batch' | 'readings' | 'names' | 'hours'
  /** Null: nobody knows. */
  readonly probe: string | null
  /** Epoch ms; null: nobody knows. */
  readonly from: number | null
  /** Not included. */
  readonly to: number | null
  /** How many readings were in them, or are behind the hours. */
  readonly readings: number
  /** Readings that are kept within that stretch now; null: nobody knows. */
  readonly now: number | null
  /** Of the readings: how many a backup has brought back. */
  readonly back: number
  /** How many bytes are kept; none once it is settled. */
  readonly bytes: number
  readonly why: string
  readonly settled: { readonly at: number; readonly how: 'back' | 'gone' } | null
}

/** A stretch of a probe whose readings were damaged and are not back. */
export interface DamagedStretch {
  readonly probe: string
  readonly what: 'readings' | 'hours'
  /** Epoch ms. */
  readonly from: number
  /** Not included. */
  readonly to: number
  readonly readings: number
  /** Somebody said that they are gone. */
  readonly gone: boolean
}

/** Why a file is none that readings can be brought back out of. */
export interface Refused {
  readonly refused: string
}

/** What became of damaged parts when a backup was gone through. */
export interface BroughtBack {
  /** Each part that was open. */
  readonly parts: readonly {
    readonly id: number
    /** Readings of it in the backup. */
    readonly found: number
    readonly of: number
    /** Why the backup is no use for it: that day has become hours there, or is not there; null: it is. */
    readonly why: 'hours only' | 'nothing' | null
  }[]
  /** Readings that are kept now and were not before. */
  readonly readings: number
}

export interface Damage {
  /** Everything that was ever met, the newest first. */
  list(): Promise<readonly DamagedPart[]>
  /** The bytes as they were found; null: no such part, or settled. */
  bytes(id: number): Promise<Uint8Array | null>
  /**
   * Somebody can do without: the bytes are deleted, that there was damage stays known. Resolves to false when there is
   * no such part, or it is settled.
   */
  gone(id: number, at: number): Promise<boolean>
  /** Stretches of probes between two moments, epoch ms, ascending. */
  within(probes: readonly string[], from: number, to: number): Promise<readonly DamagedStretch[]>
  /**
   * Brings back what another file of readings has of the open parts: what is known stays as it is, and each reading is
   * kept once. A part of which all are found is settled.
   *
   * @param file of readings, checked; it is brought to the newest layout, so it has to be a copy
   */
  bringBack(
    file: string,
    options: {
      readonly at: number
      readonly signal?: AbortSignal
      /** Hears the share that is done, 0 to 1. */
      readonly tell?: (share: number) => void
    },
  ): Promise<BroughtBack | Refused>
}
