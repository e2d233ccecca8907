/** What the check saw of an MQTT packet; nothing that is of no use for judging. */
export type SeenPacket =
  | {
      readonly cmd: 'connect'
      readonly version: number
      readonly clientId: string
      readonly username: string | null
      /** Never shown. */
      readonly password: Uint8Array | null
      readonly keepAliveS: number
      readonly will: {
        readonly topic: string
        readonly payload: Uint8Array
        readonly retain: boolean
      } | null
    }
  /** `code`: 0 is let in. */
  | { readonly cmd: 'connack'; readonly code: number }
  | {
      readonly cmd: 'publish'
      readonly topic: string
      readonly payload: Uint8Array
      readonly qos: number
      readonly retain: boolean
    }
  | { readonly cmd: 'subscribe'; readonly filters: readonly string[] }
  | { readonly cmd: 'suback' }
  | { readonly cmd: 'disconnect' }
  | { readonly cmd: 'other'; readonly name: string }

/** Why the check itself sent something to the probe. */
export type Purpose =
  | 'acknowledgement'
  /** Of a boot the probe is not in. */
  | "another boot's acknowledgement"
  | "another probe's acknowledgement"
  | 'settings in range'
  | 'settings out of range'
  | 'broken settings'
  | 'command'
  | 'the same command again'
  | 'broken command'
  | "another probe's command"
  | 'command of 128 bytes'
  | 'oversized packet'

/** What the check did to the link. */
export type Deed = 'cut' | 'refuse' | 'let in' | 'black hole' | 'withhold' | 'release'

/** One thing that happened between probe and broker. Times are epoch ms, links count from 0. */
export type Happening =
  | { readonly kind: 'opened'; readonly at: number; readonly link: number }
  /** Closed as soon as it was opened. */
  | { readonly kind: 'refused'; readonly at: number }
  | {
      readonly kind: 'up'
      readonly at: number
      readonly link: number
      readonly packet: SeenPacket
    }
  | {
      readonly kind: 'down'
      readonly at: number
      readonly link: number
      readonly packet: SeenPacket
      /** Null: the broker sent it. */
      readonly purpose: Purpose | null
    }
  | {
      readonly kind: 'unreadable'
      readonly at: number
      readonly link: number
      readonly bytes: Uint8Array
      readonly why: string
    }
  | {
      readonly kind: 'closed'
      readonly at: number
      readonly link: number
      readonly by: 'probe' | 'broker' | 'check'
    }
  | { readonly kind: 'deed'; readonly at: number; readonly deed: Deed }
