import { Agent } from 'node:https'
import type { LookupFunction } from 'node:net'
import webPush from 'web-push'
import { DAY, SECOND } from '../../model/clock.ts'
import type { PushKeys } from '../push-keys.ts'
import { PrivateTarget, publicLookup, refusePrivateLiteral } from './public-address.ts'
import { shownAnswer, troubleOf, type Outgoing, type Sender } from './sender.ts'

/** Where a browser takes messages, as it says itself (W3C Push API); kept as the route's secret. */
export interface PushSubscription {
  readonly endpoint: string
  readonly keys: { readonly p256dh: string; readonly auth: string }
}

export interface PushOptions {
  readonly keys: PushKeys
  /** Looks names up, refusing what is not public; null: any address is fine. @default by DNS */
  readonly lookup?: LookupFunction | null
  /** @default 10 s */
  readonly timeoutMs?: number
  /** Certificates to trust beside those of the system. @default none */
  readonly ca?: string
}

/** Services keep a message this long for a device that is off; an alarm of last week is none. */
const KEPT_S = DAY / SECOND
/** Codes of connections that never came about. */
const NOT_REACHED = new Set([
  'ECONNREFUSED',
  'ENOTFOUND',
  'EAI_AGAIN',
  'EHOSTUNREACH',
  'ENETUNREACH',
])
/** A payload of 4096 octets must fit with its encryption (RFC 8291, 4); text is cut well before. */
const LONGEST_TEXT = 700

const cut = (text: string): string =>
  text.length > LONGEST_TEXT ? `${text.slice(0, LONGEST_TEXT - 1)}…` : text

/** What the page's service worker shows. */
export function pushPayload({ letter, note, uid }: Outgoing): string {
  const sentences = letter.places.flatMap(({ entries }) => entries.map(({ sentence }) => sentence))
  const parts = [note ?? '', letter.lead, ...sentences].filter((text) => text !== '')
  return JSON.stringify({
    title: cut(letter.subject),
    body: cut(parts.join(' ')),
    // The same message once more takes the place of the first.
    tag: uid,
    path: letter.link === null ? '/alarms' : new URL(letter.link).pathname,
  })
}

/**
 * Web Push (RFC 8030), encrypted for the browser (RFC 8291) and signed with the hub's own key (RFC 8292). A browser that
 * has withdrawn its subscription is never tried again.
 */
export function createPushSender(options: PushOptions): Sender {
  const { keys, timeoutMs = 10 * SECOND, ca } = options
  const lookup = options.lookup === undefined ? publicLookup() : options.lookup
  return async (route, secret, message) => {
    if (route.target.way !== 'push' || secret === null) {
      throw new Error(`route ${route.id} has no browser to push to`)
    }
    const subscription = JSON.parse(secret) as PushSubscription
    const agent = new Agent({
      ...(lookup === null ? {} : { lookup }),
      ...(ca === undefined ? {} : { ca }),
    })
    try {
      if (lookup !== null) refusePrivateLiteral(new URL(subscription.endpoint).hostname)
      const answer = await webPush.sendNotification(subscription, pushPayload(message), {
        vapidDetails: {
          // RFC 8292 wants somebody to turn to; a hub has no address of its own.
          subject: route.linkBase?.startsWith('https:')
            ? route.linkBase
            : 'mailto:hub@loamline.invalid',
          ...keys,
        },
        TTL: KEPT_S,
        urgency: message.items.some(({ alarm }) => alarm.priority === 'high') ? 'high' : 'normal',
        timeout: timeoutMs,
        agent,
      })
      return { what: 'sent', answer: shownAnswer(`HTTP ${answer.statusCode} ${answer.body}`) }
    } catch (error) {
      if (error instanceof webPush.WebPushError) {
        const { statusCode, body } = error
        const never = [400, 404, 410, 413].includes(statusCode)
        const answer = shownAnswer(`HTTP ${statusCode} ${body}`)
        return { what: never ? 'never' : 'refused', answer }
      }
      const { code = '' } = error as NodeJS.ErrnoException
      const unheard = error instanceof PrivateTarget || NOT_REACHED.has(code)
      return { what: unheard ? 'refused' : 'unsure', answer: troubleOf(error) }
    } finally {
      agent.destroy()
    }
  }
}
