import { request as requestHttp } from 'node:http'
import { request as requestHttps } from 'node:https'
import type { LookupFunction } from 'node:net'
import { SECOND, type Clock } from '../../model/clock.ts'
import { CLOUD_EVENT_TYPE, cloudEvent } from './cloud-event.ts'
import { PrivateTarget, publicLookup, refusePrivateLiteral } from './public-address.ts'
import { shownAnswer, troubleOf, type Outcome, type Sender } from './sender.ts'
import { SIGNATURE_HEADER, signatureOf, TIMESTAMP_HEADER } from './signature.ts'

export interface WebhookOptions {
  readonly clock: Clock
  /** UUID of this hub. */
  readonly hubId: string
  /** For the whole exchange, ms. @default 10 s */
  readonly timeoutMs?: number
  /** Looks names up, refusing what is not public. @default by DNS */
  readonly lookup?: LookupFunction
}

interface Answer {
  readonly status: number
  readonly text: string
}

/** More of an answer is not read: it is shown in one line. */
const ANSWER_BYTES = 2048
/** The other side has read the message and cannot use it: it will not be able to later either. */
const NEVER = new Set([400, 405, 410, 413, 415, 422])

function post(
  url: URL,
  headers: Readonly<Record<string, string>>,
  body: string,
  options: { readonly signal: AbortSignal; readonly lookup: LookupFunction | undefined },
): { readonly answer: Promise<Answer>; readonly handed: () => boolean } {
  let handed = false
  const answer = new Promise<Answer>((resolve, reject) => {
    const send = url.protocol === 'https:' ? requestHttps : requestHttp
    const { lookup, signal } = options
    // No agent: a kept connection would go to an address that was checked for another message.
    const request = send(url, {
      method: 'POST',
      headers,
      agent: false,
      signal,
      ...(lookup === undefined ? {} : { lookup }),
    })
    request.on('response', (response) => {
      const status = response.statusCode ?? 0
      let text = ''
      const done = (): void => resolve({ status, text })
      response.setEncoding('utf8')
      response.on('data', (part: string) => {
        text += part
        if (text.length < ANSWER_BYTES) return
        done()
        request.destroy()
      })
      response.on('end', done)
      // The status is the answer; what was to follow it is only shown.
      response.on('error', done)
    })
    request.on('error', reject)
    request.on('finish', () => (handed = true))
    request.end(body)
  })
  return { answer, handed: () => handed }
}

function outcomeOf({ status, text }: Answer): Outcome {
  const answer = shownAnswer(`HTTP ${status} ${text}`)
  if (status >= 200 && status < 300) return { what: 'sent', answer }
  if (status >= 300 && status < 400) {
    return { what: 'refused', answer: `${answer}: an address that sends on is not followed` }
  }
  return { what: NEVER.has(status) ? 'never' : 'refused', answer }
}

/**
 * POST of a CloudEvents 1.0 event in structured mode, signed where the route has a key. Redirects are not followed.
 * Private addresses are refused unless the route allows them; a name is checked by what it is connected to.
 */
export function createWebhookSender(options: WebhookOptions): Sender {
  const { clock, hubId, timeoutMs = 10 * SECOND, lookup = publicLookup() } = options
  return async (route, key, message) => {
    const { target } = route
    if (target.way !== 'webhook') throw new Error(`route ${route.id} is no webhook`)
    const url = new URL(target.url)
    const body = JSON.stringify(cloudEvent(hubId, message))
    const timestamp = String(Math.floor(clock() / SECOND))
    const signature = key === null ? null : signatureOf(key, timestamp, body)
    const headers = {
      'content-type': `${CLOUD_EVENT_TYPE}; charset=utf-8`,
      'content-length': String(Buffer.byteLength(body)),
      'user-agent': 'Loamline',
      [TIMESTAMP_HEADER]: timestamp,
      ...(signature === null ? {} : { [SIGNATURE_HEADER]: signature }),
    }
    const signal = AbortSignal.timeout(timeoutMs)
    let handed = (): boolean => false
    try {
      if (!target.privateAllowed) refusePrivateLiteral(url.hostname)
      const sent = post(url, headers, body, {
        signal,
        lookup: target.privateAllowed ? undefined : lookup,
      })
      handed = sent.handed
      return outcomeOf(await sent.answer)
    } catch (error) {
      if (error instanceof PrivateTarget) {
        return { what: 'refused', answer: `${error.message}; the route does not allow that` }
      }
      const answer = signal.aborted ? `no answer within ${timeoutMs / SECOND} s` : troubleOf(error)
      return { what: handed() ? 'unsure' : 'refused', answer }
    }
  }
}
