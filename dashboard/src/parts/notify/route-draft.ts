import type { RouteInput, RouteView } from '../../../../hub/api/schemas/message.ts'
import { ALARM_KINDS, type AlarmKind } from './alarm-kinds.ts'
import { say } from '../../say.ts'

export type Way = RouteInput['target']['way']
type Priority = RouteInput['leastPriority']
export type Subscription = NonNullable<
  Extract<RouteInput['target'], { way: 'push' }>['subscription']
>

/** A route's form: fields as text. */
export interface RouteDraft {
  readonly way: Way
  readonly name: string
  readonly on: boolean
  readonly to: string
  readonly from: string
  readonly host: string
  readonly port: string
  readonly security: 'tls' | 'starttls' | 'none'
  readonly anyCertificate: boolean
  readonly user: string
  /** Empty: what is kept stays. */
  readonly secret: string
  readonly url: string
  readonly privateAllowed: boolean
  readonly retain: boolean
  readonly subscription: Subscription | null
  readonly service: string
  /** Chosen ones; all: no choice. */
  readonly kinds: readonly AlarmKind[]
  readonly beds: readonly number[] | null
  readonly leastPriority: Priority
  readonly tells: RouteInput['tells']
  readonly gatherMin: string
  readonly atOnceFrom: Priority
  readonly digestAt: string
  readonly quiet: boolean
  readonly quietFrom: string
  readonly quietTo: string
  readonly letThrough: Priority | 'none'
  /** Empty: never. */
  readonly repeatMin: string
  readonly escalateTo: string
  readonly escalateMin: string
  readonly mostPerHour: string
}

/** What a new route begins with: people get mornings and quiet nights, programs get everything at once. */
export function newDraft(way: Way): RouteDraft {
  const forPeople = way === 'e-mail' || way === 'push'
  return {
    way,
    name: '',
    on: true,
    to: '',
    from: '',
    host: '',
    port: '587',
    security: 'starttls',
    anyCertificate: false,
    user: '',
    secret: '',
    url: '',
    privateAllowed: false,
    retain: false,
    subscription: null,
    service: '',
    kinds: ALARM_KINDS,
    beds: null,
    leastPriority: 'low',
    tells: forPeople ? 'ended' : 'all',
    gatherMin: forPeople ? '5' : '0',
    atOnceFrom: forPeople ? 'high' : 'low',
    digestAt: '07:00',
    quiet: forPeople,
    quietFrom: '22:00',
    quietTo: '07:00',
    letThrough: 'high',
    repeatMin: '',
    escalateTo: '',
    escalateMin: '60',
    mostPerHour: forPeople ? '6' : '60',
  }
}

export function toDraft(route: RouteView): RouteDraft {
  const { target, quiet, escalate } = route
  const of = newDraft(target.way)
  const shown = {
    ...(target.way === 'e-mail'
      ? { ...target, port: String(target.port), user: target.user ?? '' }
      : target),
  }
  return {
    ...of,
    ...shown,
    name: route.name,
    on: route.on,
    kinds: route.kinds ?? ALARM_KINDS,
    beds: route.beds,
    leastPriority: route.leastPriority,
    tells: route.tells,
    gatherMin: String(route.gatherMin),
    atOnceFrom: route.digestAt === null ? 'low' : route.atOnceFrom,
    digestAt: route.digestAt ?? of.digestAt,
    quiet: quiet !== null,
    quietFrom: quiet?.from ?? of.quietFrom,
    quietTo: quiet?.to ?? of.quietTo,
    letThrough: quiet === null ? of.letThrough : (quiet.letThrough ?? 'none'),
    repeatMin: route.repeatMin === null ? '' : String(route.repeatMin),
    escalateTo: escalate === null ? '' : String(escalate.to),
    escalateMin: escalate === null ? of.escalateMin : String(escalate.afterMin),
    mostPerHour: String(route.mostPerHour),
  }
}

function targetOf(draft: RouteDraft): RouteInput['target'] {
  const { way, secret } = draft
  switch (way) {
    case 'e-mail': {
      const { to, from, host, security, anyCertificate, user } = draft
      const port = Number(draft.port)
      const name = user.trim() === '' ? null : user
      const password = secret === '' ? {} : { password: secret }
      return { way, to, from, host, port, security, anyCertificate, user: name, ...password }
    }
    case 'webhook': {
      const { url, privateAllowed } = draft
      return { way, url, privateAllowed, ...(secret === '' ? {} : { key: secret }) }
    }
    case 'push':
      return draft.subscription === null ? { way } : { way, subscription: draft.subscription }
    case 'mqtt':
      return { way, retain: draft.retain }
  }
}

const WHOLE = /^\d{1,6}$/

export type Checked =
  | { readonly input: RouteInput }
  | { readonly errors: { path: string; message: string }[] }

/** The form as the hub takes it, or what is wrong with its numbers. `linkBase`: where this page came from. */
export function toInput(draft: RouteDraft, linkBase: string): Checked {
  const errors: { path: string; message: string }[] = []
  const number = (path: string, text: string): number => {
    if (WHOLE.test(text.trim())) return Number(text)
    errors.push({ path, message: say`expected a whole number` })
    return 0
  }
  if (draft.way === 'e-mail') number('target.port', draft.port)
  if (draft.kinds.length === 0) {
    errors.push({ path: 'kinds', message: say`expected one kind of alarm at least` })
  }
  if (draft.beds?.length === 0) {
    errors.push({ path: 'beds', message: say`expected one bed at least` })
  }
  const { name, on, leastPriority, tells, atOnceFrom, digestAt, letThrough } = draft
  const input: RouteInput = {
    name,
    on,
    linkBase,
    target: targetOf(draft),
    kinds: draft.kinds.length === ALARM_KINDS.length ? null : [...draft.kinds],
    beds: draft.beds === null ? null : [...draft.beds],
    leastPriority,
    tells,
    gatherMin: number('gatherMin', draft.gatherMin),
    atOnceFrom,
    digestAt: atOnceFrom === 'low' ? null : digestAt,
    quiet: draft.quiet
      ? {
          from: draft.quietFrom,
          to: draft.quietTo,
          letThrough: letThrough === 'none' ? null : letThrough,
        }
      : null,
    repeatMin: draft.repeatMin.trim() === '' ? null : number('repeatMin', draft.repeatMin),
    escalate:
      draft.escalateTo === ''
        ? null
        : {
            to: Number(draft.escalateTo),
            afterMin: number('escalate.afterMin', draft.escalateMin),
          },
    mostPerHour: number('mostPerHour', draft.mostPerHour),
  }
  return errors.length > 0 ? { errors } : { input }
}
