import type { Accounts } from '../accounts/open-accounts.ts'
import type { Assessment } from '../analysis/assessment.ts'
import type { WatchEvent } from '../analysis/watch/event.ts'
import type { Alarm, AlarmStep } from '../model/alarm.ts'
import type { Clock } from '../model/clock.ts'
import type { Manner } from '../model/manner.ts'
import type { Command, Order, ProbeSettings } from '../model/order.ts'
import type { BroughtBack, Refused } from '../store/damage.ts'
import type { GardenStore } from '../store/garden-store.ts'
import type { Damaged, ReadingStore } from '../store/reading-store.ts'
import type { WatchStore } from '../store/watch-store.ts'
import type { Jobs } from '../jobs/open-jobs.ts'
import type { LiveFeed } from './live.ts'
import type { Disk, Health } from './schemas/health.ts'

/** What the API needs of the evaluation loop. */
export interface Watch {
  /** With `from` (epoch ms) what was seen of them from then on no longer holds. */
  touch(bedIds?: readonly number[], from?: number): void
  latest(bedId: number): Assessment | null
  /** Everything the watch of a bed remembers, oldest first. */
  events(bedId: number): readonly WatchEvent[]
  acknowledge(alarmId: number): Promise<Alarm | null>
  /** Makes a step of each alarm; resolves to them afterwards, null for those there are not. */
  operate(
    alarmIds: readonly number[],
    how: (alarm: Alarm, at: number) => AlarmStep | null,
  ): Promise<readonly (Alarm | null)[]>
  /** A spot has another name: what is open about it goes on under that. */
  spotRenamed(bedId: number, was: string, name: string): Promise<void>
  state(): {
    readonly lastAt: number | null
    readonly problem: string | null
    /** How often all rules ran over a bed since the hub started. */
    readonly rounds: number
  }
}

/** What the API needs to ask something of a probe. */
export interface ProbeAsking {
  /** Goes out at once when the probe is there, else when it wakes, until `expiresAt`, epoch ms. */
  command(probe: string, what: Command, expiresAt: number): Promise<Order>
  settings(probe: string, settings: ProbeSettings): Promise<Order>
}

/** What the API needs of passwords and limits of probes. */
export interface ProbeAccess {
  of(probe: string): {
    readonly password: 'none' | 'set' | 'revoked'
    /** When it came to that, epoch ms; null for none. */
    readonly since: number | null
    /** When somebody last gave a wrong one since the hub started, epoch ms. */
    readonly wrongAt: number | null
    /** It sends more than it may. */
    readonly overLimit: {
      readonly since: number
      readonly lastAt: number
      readonly refused: number
    } | null
  }
  /** Makes a new password; it is told here and never again. */
  make(probe: string): Promise<string>
  revoke(probe: string): Promise<void>
  /** Where probes find the broker; host null: by the name under which the hub is called. */
  readonly broker: {
    readonly host: string | null
    /** It listens at every address of this machine, so that any of them will do for none. */
    readonly everyAddress: boolean
    readonly port: number
    readonly encrypted: boolean
    /** Where it listens without encryption besides; null: nowhere. */
    readonly plainPort: number | null
    /** SHA-256 of the public key of its certificate, base64; null where that is not known. */
    readonly keySha256: () => string | null
  }
}

/** What the hub knows of itself. */
export interface HubState {
  readonly version: string
  readonly startedAt: number
  readonly broker: Health['broker']
  /** Whether what comes in can be stored. */
  readonly intake: {
    readonly problem: string | null
    /** Why readings that were taken are not shown yet. @default null */
    readonly settling?: string | null
    /** Folders in which damaged databases lie. @default none */
    readonly setAside?: readonly string[]
    /** Asks for readings that were met damaged, put aside and not settled yet. @default none */
    readonly damaged?: () => Promise<Damaged | null>
  }
  /** Of a serving hub: how far it has taken what ingest processes took. @default null */
  readonly intakeLog?: Health['intakeLog']
  readonly demo: boolean
  /** Asks for the room on the disk the data are on. */
  readonly disk?: () => Promise<Disk | null>
  /** Bytes of everything in the data folder; null when it cannot be asked. */
  readonly folderBytes?: () => Promise<number | null>
  readonly loading: Health['loading']
}

/** How the hub is reached over HTTP. */
export interface HttpPlace {
  /** Whether it listens beyond its own machine. */
  readonly beyond: boolean
  /** Names it answers to besides localhost, small letters. */
  readonly names: readonly string[]
  /** In which header a proxy on this machine says for whom it asks. */
  readonly proxyHeader: 'x-forwarded-for' | 'forwarded' | 'x-real-ip' | 'none'
  /** For how long browsers that came by HTTPS are asked to keep to it, s; 0: they are not. */
  readonly hstsS: number
}

/** What the API needs of the delivery of messages. */
export interface Messages {
  /** Routes have news. */
  touch(): void
  /** Sends a test at once; null for an unknown route. */
  test(routeId: number): Promise<{
    readonly what: 'sent' | 'refused' | 'never' | 'unsure'
    readonly answer: string
  } | null>
  retry(routeId: number): Promise<void>
  /** What browsers subscribe with, base64url. */
  readonly pushKey: string
  /** UUID of this hub, for ever. */
  readonly hubId: string
}

export interface ApiDeps {
  readonly readings: ReadingStore
  readonly garden: GardenStore
  readonly memory: WatchStore
  readonly clock: Clock
  readonly watch: Watch
  readonly live: LiveFeed
  readonly jobs: Jobs
  readonly access: ProbeAccess
  readonly accounts: Accounts
  readonly http: HttpPlace
  /** Makes a consistent copy of the data folder; `drop` removes it again. */
  readonly backup: (options?: {
    readonly signal: AbortSignal
    readonly tell: (share: number) => void
  }) => Promise<{ readonly folder: string; readonly drop: () => void }>
  /** Brings damaged readings back out of the archive of a backup. */
  readonly bringBack: (
    archive: AsyncIterable<Uint8Array>,
  ) => Promise<
    (BroughtBack & { /** When the backup was made, epoch ms. */ readonly madeAt: number }) | Refused
  >
  readonly orders: ProbeAsking
  readonly messages: Messages
  /** How the garden is spoken to; `set` has everything said anew. */
  readonly manner: { now(): Manner; set(manner: Manner): void }
  readonly hub: () => HubState
}
