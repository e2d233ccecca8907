import { z } from 'zod'
import { ALARM_KINDS, ALARM_PRIORITIES } from '../../model/alarm.ts'
import { MAIL_SECURITIES, MESSAGE_STATES, ROUTE_TELLS } from '../../model/route.ts'
import { toSay } from '../../words/say.ts'
import { epochMs, id, name, wholeText } from './common.ts'

const timeOfDay = z
  .string()
  .regex(/^([01]\d|2[0-3]):[0-5]\d$/, toSay('expected a time of day such as 07:00'))
  .describe("time of day in the garden's zone, HH:MM")
const oneLine = /^\P{C}*$/u
/** One address and nothing else: no name, no list, nothing that could become a header. */
const address = z
  .string()
  .trim()
  .max(254, toSay('expected an address of at most 254 characters'))
  .regex(
    /^[^\s\p{C}@<>()[\]\\,;:"]+@[^\s\p{C}@<>()[\]\\,;:"]+$/u,
    toSay('expected one e-mail address such as beds@example.org'),
  )
const host = z
  .string()
  .trim()
  .max(253)
  .regex(/^[A-Za-z0-9.:_-]+$/, toSay('expected the name or address of a server'))

const mailTarget = z.object({
  way: z.literal('e-mail'),
  to: address,
  from: address,
  host,
  port: z.number().int().min(1).max(65_535),
  security: z
    .enum(MAIL_SECURITIES)
    .describe(
      'tls: encrypted from the first byte; starttls: STARTTLS is demanded; none: readable by all',
    ),
  anyCertificate: z.boolean().describe("take the server's certificate whoever signed it"),
  user: z
    .string()
    .trim()
    .min(1)
    .max(200)
    .regex(oneLine)
    .nullable()
    .describe('null: the server asks for no name and password'),
})
const webhookTarget = z.object({
  way: z.literal('webhook'),
  url: z
    .string()
    .trim()
    .max(2000)
    .refine((text) => {
      if (!URL.canParse(text)) return false
      const { protocol, username, password } = new URL(text)
      return /^https?:$/.test(protocol) && username === '' && password === ''
    }, toSay('expected an address that begins with https:// or http:// and holds no password')),
  privateAllowed: z
    .boolean()
    .describe('addresses of the own network and of this machine are refused unless this says so'),
})
const pushTarget = z.object({ way: z.literal('push'), service: z.string() })
const mqttTarget = z.object({
  way: z.literal('mqtt'),
  retain: z.boolean().describe('the newest message stays at the broker for who comes later'),
})

const common = {
  name,
  on: z.boolean(),
  linkBase: z
    .string()
    .max(300)
    .refine(
      (text) => URL.canParse(text) && new URL(text).origin === text && /^https?:/.test(text),
      toSay('expected an address such as https://hub.local without anything behind it'),
    )
    .nullable()
    .describe('how the gardener opens the hub, for links in messages'),
  kinds: z.array(z.enum(ALARM_KINDS)).min(1).nullable().describe('null: every kind'),
  beds: z.array(id).min(1).nullable().describe('null: every bed'),
  leastPriority: z.enum(ALARM_PRIORITIES),
  tells: z
    .enum(ROUTE_TELLS)
    .describe('raised: that an alarm was raised; ended: also its end; all: every change'),
  gatherMin: z
    .number()
    .int()
    .min(0)
    .max(120)
    .describe('what happens in a bed within so many minutes is one message'),
  digestAt: timeOfDay
    .nullable()
    .describe('when alarms below atOnceFrom are summed up; null: never held'),
  atOnceFrom: z.enum(ALARM_PRIORITIES),
  quiet: z
    .object({
      from: timeOfDay,
      to: timeOfDay,
      letThrough: z
        .enum(ALARM_PRIORITIES)
        .nullable()
        .describe('alarms of at least this priority come through; null: none'),
    })
    .refine((q) => q.from !== q.to, {
      path: ['to'],
      message: toSay('expected another time than the beginning'),
    })
    .nullable(),
  repeatMin: z.number().int().min(5).max(10_080).nullable(),
  escalate: z
    .object({ afterMin: z.number().int().min(5).max(10_080), to: id })
    .nullable()
    .describe('told by another route when nobody has acknowledged for so many minutes'),
  mostPerHour: z.number().int().min(1).max(60).describe('more messages become one'),
}

const key = z
  .string()
  .min(16, toSay('expected at least 16 characters'))
  .max(500)
  .regex(oneLine, toSay('expected one line without control characters'))
const password = z.string().min(1).max(500).regex(oneLine)
const endpoint = z
  .string()
  .max(2000)
  .refine(
    (text) => URL.canParse(text) && new URL(text).protocol === 'https:',
    toSay('expected an address that begins with https://'),
  )

/** So many bytes in base64url, as browsers give keys (W3C Push API). */
const keyBytes = (length: number) =>
  z
    .string()
    .max(200)
    .refine(
      (text) => /^[\w-]+=*$/.test(text) && Buffer.from(text, 'base64url').byteLength === length,
      toSay('expected a key as browsers give it'),
    )

/** `secret`, `key`, `subscription`: written and never read back; left out, what is kept stays. */
export const routeInput = z
  .object({
    ...common,
    target: z.discriminatedUnion('way', [
      mailTarget.extend({ password: password.optional().describe('write-only') }),
      webhookTarget.extend({
        key: key.nullable().optional().describe('write-only; signs what is sent; null: not signed'),
      }),
      z.object({
        way: z.literal('push'),
        subscription: z
          .object({
            endpoint,
            keys: z.object({ p256dh: keyBytes(65), auth: keyBytes(16) }),
          })
          .optional()
          .describe('write-only; as the browser gives it'),
      }),
      mqttTarget,
    ]),
  })
  .meta({ id: 'MessageRouteForm' })
export type RouteInput = z.infer<typeof routeInput>

export const route = z
  .object({
    ...common,
    id,
    createdAt: epochMs,
    pausedUntil: epochMs.nullable(),
    target: z.discriminatedUnion('way', [mailTarget, webhookTarget, pushTarget, mqttTarget]),
    topic: z.string().nullable().describe('where an MQTT route publishes'),
    hasSecret: z.boolean().describe('a password, key or subscription is kept'),
  })
  .meta({ id: 'MessageRoute' })
export type RouteView = z.infer<typeof route>

export const routePause = z.object({
  until: epochMs.nullable().describe('nothing is sent before; null ends the pause'),
})

export const testResult = z
  .object({
    what: z
      .enum(['sent', 'refused', 'never', 'unsure'])
      .describe('refused, never: it did not arrive; unsure: the line broke in between'),
    answer: z.string().describe('what the other side answered, or why there is no answer'),
  })
  .meta({ id: 'TestResult' })
export type TestResultView = z.infer<typeof testResult>

export const message = z
  .object({
    id,
    uid: z.string().describe('stays over all tries'),
    routeId: id,
    title: z.string(),
    madeAt: epochMs,
    held: z.enum(['digest', 'quiet', 'pause', 'flood']).nullable().describe('why it sums up'),
    alarms: z.array(z.object({ id, bedId: id.nullable(), bed: z.string().nullable() })),
    state: z.enum(MESSAGE_STATES),
    tries: z.number().int(),
    lastTryAt: epochMs.nullable(),
    nextTryAt: epochMs.nullable(),
    sentAt: epochMs.nullable(),
    answer: z.string().nullable(),
    maybeSent: z.boolean().describe('nobody knows whether a try arrived: the next may repeat it'),
  })
  .meta({ id: 'Message' })
export type MessageView = z.infer<typeof message>

export const messageQuery = z.object({
  route: wholeText(1, Number.MAX_SAFE_INTEGER).optional(),
  limit: wholeText(1, 500).default(50),
})

export const pushKey = z
  .object({
    publicKey: z.string().describe('what a browser subscribes with (RFC 8292), base64url'),
  })
  .meta({ id: 'PushKey' })
