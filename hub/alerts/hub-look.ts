/** Parts of the hub that alarms are about. */
export const HUB_PARTS = [
  'disk',
  'store',
  'broker',
  'intake',
  'influx',
  'delivery',
  'certificate',
] as const
export type HubPart = (typeof HUB_PARTS)[number]

/** Something of the hub that does not work. */
export interface HubTrouble {
  readonly subject: HubPart
  /** Epoch ms. */
  readonly since: number
  /** What is the matter, in the language spoken here. */
  readonly sentence: string
}

/** What can be said of the hub itself at one time. */
export interface HubLook {
  readonly at: number
  readonly bedId: null
  readonly troubles: readonly HubTrouble[]
  /** Null: could not be found out. */
  readonly disk: {
    readonly freeBytes: number
    readonly totalBytes: number
    /** When it is full if it goes on like this, epoch ms; null: not within years, or cannot be told. */
    readonly fullAt: number | null
  } | null
  /** Probes that sit in beds, how many of them are silent, and since when the last of those was heard, epoch ms. */
  readonly probes: {
    readonly placed: number
    readonly silent: number
    readonly heardAt: number | null
  }
}
