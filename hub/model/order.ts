/** What a gardener may ask of a probe at once. */
export const COMMANDS = ['read', 'ident', 'reboot', 'hello'] as const
export type Command = (typeof COMMANDS)[number]

/** Settings wanted of a probe; null leaves that one to the probe. */
export interface ProbeSettings {
  /** Measuring interval, s, 60 to 86400. */
  readonly intervalS: number | null
  /** Samples for one reading, 1 to 256. */
  readonly samples: number | null
  /** Time to settle, s, 0 to 600. */
  readonly settleS: number | null
}

/** What the hub wants of a probe. */
export type Wish =
  | { readonly kind: 'settings'; readonly settings: ProbeSettings }
  | { readonly kind: 'command'; readonly what: Command; readonly expiresAt: number }
  /** Readings `from`, `from` + 1, ... of a boot once more, so many. */
  | {
      readonly kind: 'resend'
      readonly boot: number
      readonly from: number
      readonly count: number
      readonly expiresAt: number
    }

export interface Answer {
  /** Epoch ms. */
  readonly at: number
  readonly ok: boolean
  /** What the probe said of a refusal; its own text, not to be trusted. */
  readonly reason: string | null
}

/** A wish under a number of its own. Times are epoch ms. */
export type Order = Wish & {
  /** uint32, one count for settings and commands of all probes: what a result names. */
  readonly id: number
  readonly probe: string
  readonly madeAt: number
  /** When it last went out, and how often; settings are retained and go out at once. */
  readonly sentAt: number | null
  readonly times: number
  readonly answer: Answer | null
}
