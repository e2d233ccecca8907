import type { Alarm, AlarmChangeKind, AlarmKind, AlarmPriority } from './alarm.ts'

/** By what way messages reach the gardener. */
export const ROUTE_WAYS = ['e-mail', 'webhook', 'push', 'mqtt'] as const
export type RouteWay = (typeof ROUTE_WAYS)[number]

/** How an SMTP connection is guarded: from its first byte, after STARTTLS (which is then demanded), or not at all. */
export const MAIL_SECURITIES = ['tls', 'starttls', 'none'] as const

export interface MailTarget {
  readonly way: 'e-mail'
  readonly to: string
  readonly from: string
  readonly host: string
  readonly port: number
  readonly security: (typeof MAIL_SECURITIES)[number]
  /** Take the server's certificate whoever signed it: for a server of one's own without a public one. */
  readonly anyCertificate: boolean
  /** Null: the server asks for no name and password. */
  readonly user: string | null
}

export interface WebhookTarget {
  readonly way: 'webhook'
  readonly url: string
  /** Addresses of the own network and of this machine are refused unless this says so. */
  readonly privateAllowed: boolean
}

/** One browser that asked for messages; where it takes them is its secret. */
export interface PushTarget {
  readonly way: 'push'
  /** Host of the push service, for people. */
  readonly service: string
}

/** Messages go to `lm1/hub/messages/{route}` at the hub's broker. */
export interface MqttTarget {
  readonly way: 'mqtt'
  /** The newest message stays at the broker for who comes later. */
  readonly retain: boolean
}

export type RouteTarget = MailTarget | WebhookTarget | PushTarget | MqttTarget

/** Hours in which a route keeps still; times of day 'HH:MM' in the garden's zone, `to` may be on the next morning. */
export interface QuietHours {
  readonly from: string
  readonly to: string
  /** Alarms of at least this priority come through; null: none. */
  readonly letThrough: AlarmPriority | null
}

/** Which changes of an alarm are told: that it was raised, also its end, or everything. */
export const ROUTE_TELLS = ['raised', 'ended', 'all'] as const

export interface NewRoute {
  readonly name: string
  readonly on: boolean
  readonly target: RouteTarget
  /** Address of the hub as the gardener opens it, for links in messages; null: none. */
  readonly linkBase: string | null
  /** Null: of every kind, bed or, from `leastPriority` on, priority. Alarms about no bed go to every route. */
  readonly kinds: readonly AlarmKind[] | null
  readonly beds: readonly number[] | null
  readonly leastPriority: AlarmPriority
  readonly tells: (typeof ROUTE_TELLS)[number]
  /** What happens in a bed within so many minutes is one message. */
  readonly gatherMin: number
  /** Alarms below `atOnceFrom` wait for this time of day, 'HH:MM'; null: everything goes at once. */
  readonly digestAt: string | null
  readonly atOnceFrom: AlarmPriority
  readonly quiet: QuietHours | null
  /** Told again after so many minutes without an acknowledgement; null: never. */
  readonly repeatMin: number | null
  /** Told by another route after so many minutes without an acknowledgement. */
  readonly escalate: { readonly afterMin: number; readonly to: number } | null
  /** More messages within an hour become one. */
  readonly mostPerHour: number
}

export interface Route extends NewRoute {
  readonly id: number
  readonly createdAt: number
  /** Nothing is sent before, epoch ms; what comes meanwhile is summed up then. Null: not paused. */
  readonly pausedUntil: number | null
  /** A password, key or address that is written and never read back is there. */
  readonly hasSecret: boolean
}

/** Why a message says something about an alarm. */
export type ItemReason = AlarmChangeKind | 'again' | 'escalated'

/** What a message says about one alarm. */
export interface MessageItem {
  readonly alarm: Alarm
  /** Name of its bed; null for one about the hub or a probe in no bed. */
  readonly bed: string | null
  /** What happened, oldest first. */
  readonly reasons: readonly ItemReason[]
  /** When the first of it happened, epoch ms. */
  readonly since: number
}

/** Why several beds share a message: kept for its time of day, quiet hours, a pause or too many messages. */
export type MessageHold = 'digest' | 'quiet' | 'pause' | 'flood'

export interface NewMessage {
  /** A UUID: stays over all tries. */
  readonly uid: string
  readonly madeAt: number
  /** Null: told as it happened, of one bed. */
  readonly held: MessageHold | null
  readonly items: readonly MessageItem[]
}

/** `given-up`: it was tried for days, or the other side will never take it. */
export const MESSAGE_STATES = ['waiting', 'sending', 'failed', 'sent', 'given-up'] as const
export type MessageState = (typeof MESSAGE_STATES)[number]

/** A message of the outbox. Those of one route are sent in the order of their ids, one after the other. */
export interface Message extends NewMessage {
  readonly id: number
  readonly routeId: number
  readonly state: MessageState
  readonly tries: number
  readonly lastTryAt: number | null
  /** Null when there is none. */
  readonly nextTryAt: number | null
  readonly sentAt: number | null
  /** What the other side answered, or why it could not be sent. */
  readonly answer: string | null
  /** A try ended without anybody knowing whether it arrived: the next one may repeat it. */
  readonly maybeSent: boolean
}
