/** What can be said of one adopted probe at one time. */
export interface ProbeLook {
  readonly at: number
  /** Where it sits; null: in no bed, which takes it out of service: nothing is alarmed about it. */
  readonly bedId: number | null
  readonly bed: string
  readonly spot: string
  readonly probe: string
  /** The gardener's name for it. */
  readonly name: string
  /** Newest reading, epoch ms; null: none since it sits there. */
  readonly lastAt: number | null
  /** In this spot since, epoch ms. */
  readonly placedAt: number
  /** Usual time between two readings, ms. */
  readonly intervalMs: number
  /** When it said it would be back from sleep, epoch ms; null: it said nothing. */
  readonly backAt: number | null
  /**
   * Since when the hub has listened without a break, epoch ms; null: it does not, so silence says nothing of
   * a probe.
   */
  readonly listeningSince: number | null
  readonly supply: {
    /** Newest levels first, in V or per cent; empty without such a channel. */
    readonly levels: readonly number[]
    readonly unit: 'V' | '%'
    /** A level below is low; NaN: cannot be told. */
    readonly lowBelow: number
    /** Whether the probe itself said so, with its newest readings, newest first. */
    readonly told: readonly boolean[]
  }
  /** Newest calibration of its pH electrode, epoch ms; null: it has none, or nothing to calibrate. */
  readonly calibratedAt: number | null
}
