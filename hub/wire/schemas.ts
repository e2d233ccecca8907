import { z } from 'zod'
import { SENSED } from '../model/quantity.ts'
import type { Sensed } from '../model/quantity.ts'
import { CHANNEL_NAME } from './topic.ts'

/*
 * One source for what a payload may hold: the hub decodes with these, and firmware-spec/schemas is
 * generated from them. Every member's description is the second half of a sentence: "expected ...".
 */

export const UINT32_MAX = 4_294_967_295
/** 2020-01-01; an earlier "time" is an unset clock or seconds since boot. */
export const EPOCH_MIN_S = 1_577_836_800
export const MAX_CHANNELS_PER_MESSAGE = 8
/** No channel's value lies further from 0. */
export const VALUE_LIMIT = 1e9

/** Units on the wire. Spellings as in the SenML units registry (IANA, 2025-03-27) where it has one. */
export const UNITS = [
  'pH',
  'mV',
  'V',
  'Cel',
  '/',
  'count',
  'Hz',
  'S/m',
  'mS/cm',
  'kPa',
  'hPa',
  '%RH',
  'dBm',
  '%EL',
  'Ohm',
] as const
export type Unit = (typeof UNITS)[number]

/** Units each sensed thing may come in. */
export const UNITS_OF: Readonly<Record<Sensed, readonly Unit[]>> = {
  ph: ['pH'],
  'ph.emf': ['mV'],
  vwc: ['/'],
  'moist.raw': ['count', 'Hz', 'mV'],
  permittivity: ['/'],
  'temp.soil': ['Cel'],
  'temp.air': ['Cel'],
  'rh.air': ['%RH'],
  ec: ['S/m', 'mS/cm'],
  tension: ['kPa', 'hPa'],
  bat: ['V', '%EL'],
  rssi: ['dBm'],
  other: UNITS,
}

const uint = (max: number, what: string) =>
  z.int().min(0).max(max).describe(`${what}: a whole number from 0 to ${max}`)
const boot = uint(UINT32_MAX - 1, 'boot id')
const uptime = uint(UINT32_MAX, 'uptime in whole seconds')
const epoch = z
  .int()
  .min(EPOCH_MIN_S)
  .max(UINT32_MAX)
  .describe(
    'time in whole seconds since 1970, not before 2020, left out while the clock is not set',
  )
const channelName = z
  .string()
  .regex(CHANNEL_NAME)
  .describe('a channel name: 1 to 8 lower-case letters and digits, a letter first')
const value = z.number().min(-VALUE_LIMIT).max(VALUE_LIMIT)
const limit = value.describe('a number')
/** A row of a batch begins with two counters, which reach higher than any value. */
const entry = z.number().min(-VALUE_LIMIT).max(UINT32_MAX)

/** JSON Schema counts the characters of a text, zod would count UTF-16 units. */
function text(longest: number, what: string) {
  return z
    .string()
    .refine((given) => Array.from(given).length <= longest)
    .meta({ maxLength: longest })
    .describe(`${what}, a text of at most ${longest} characters`)
}

/** JSON Schema says the number of members; zod needs a refinement for it. */
function values<T extends z.ZodType>(member: T, least: 0 | 1) {
  return z
    .record(channelName, member)
    .refine((record) => {
      const count = Object.keys(record).length
      return count >= least && count <= MAX_CHANNELS_PER_MESSAGE
    })
    .meta({ minProperties: least, maxProperties: MAX_CHANNELS_PER_MESSAGE })
}

const SHAPES = {
  reading: {
    b: boot,
    n: uint(UINT32_MAX, 'sequence number'),
    u: uptime,
    t: epoch.optional(),
    f: uint(65_535, 'flag bits').optional(),
    v: values(value.nullable(), 1).describe(
      'values by channel name, 1 to 8 of them, each a number or null for a failed sensor',
    ),
    s: values(z.number().min(0).max(VALUE_LIMIT), 0)
      .optional()
      .describe('sample spread by channel name, each a number from 0'),
  },
  batch: {
    b: boot,
    nb: boot.optional(),
    u: uptime,
    t: epoch.optional(),
    c: z.array(channelName).min(1).max(MAX_CHANNELS_PER_MESSAGE).describe('1 to 8 channel names'),
    r: z
      .array(
        z
          .array(entry.nullable())
          .min(3)
          .max(MAX_CHANNELS_PER_MESSAGE + 2),
      )
      .min(1)
      .max(50)
      .describe('1 to 50 rows [sequence number, uptime, one value for each channel of c]'),
  },
  state: {
    s: z.enum(['on', 'off', 'sleep']).describe('"on", "off" or "sleep"'),
    b: boot,
    u: uptime.optional(),
    nx: z.int().min(10).max(86_400).optional().describe('seconds of sleep to come, 10 to 86400'),
  },
  birth: {
    p: z.literal(1).describe('protocol version 1'),
    fw: text(24, 'firmware name and version'),
    hw: text(24, 'hardware').optional(),
    b: boot,
    u: uptime,
    iv: z.int().min(10).max(86_400).describe('measuring interval in whole seconds, 10 to 86400'),
    ch: z
      .string()
      .regex(/^[a-z][a-z0-9]{0,7}(,[a-z][a-z0-9]{0,7}){0,7}$/)
      .describe('1 to 8 channel names in one text, with commas between and no spaces'),
    cv: uint(UINT32_MAX, 'settings version').optional(),
    buf: uint(1_000_000, 'readings it can hold back').optional(),
    x: text(16, 'claimed profiles').optional(),
  },
  channel: {
    q: z.enum(SENSED).describe(`what is sensed: one of ${SENSED.join(', ')}`),
    u: z.enum(UNITS).describe(`a listed unit: one of ${UNITS.join(' ')}`),
    d: z.number().min(0).max(5).optional().describe('depth in metres, 0 to 5'),
    lo: limit.optional(),
    hi: limit.optional(),
    lsb: z.number().positive().max(VALUE_LIMIT).optional().describe('smallest step, above 0'),
    from: channelName.optional(),
    a: limit.optional(),
    z: limit.optional(),
    tc: channelName.optional(),
    cv: uint(UINT32_MAX, 'settings version').optional(),
    sn: text(32, 'serial number').optional(),
  },
  result: {
    id: uint(UINT32_MAX, 'id of the command or settings answered'),
    ok: z.boolean().describe('true or false'),
    cv: uint(UINT32_MAX, 'settings version').optional(),
    e: text(40, 'what was refused').optional(),
  },
  ack: { b: boot, n: uint(UINT32_MAX, 'newest sequence number stored without a hole') },
  cfg: {
    cv: uint(UINT32_MAX, 'settings version'),
    iv: z.int().min(60).max(86_400).optional().describe('interval in seconds, 60 to 86400'),
    ns: z.int().min(1).max(256).optional().describe('samples for one reading, 1 to 256'),
    st: z.int().min(0).max(600).optional().describe('seconds to settle, 0 to 600'),
  },
  cmd: {
    id: uint(UINT32_MAX, 'command id'),
    do: z
      .enum(['read', 'resend', 'ident', 'reboot', 'hello'])
      .describe('"read", "resend", "ident", "reboot" or "hello"'),
    b: boot.optional(),
    n: uint(UINT32_MAX, 'first sequence number wanted').optional(),
    k: z.int().min(1).max(255).optional().describe('how many, 1 to 255'),
  },
  time: { t: epoch },
} as const

export const KINDS = [
  'reading',
  'batch',
  'state',
  'birth',
  'channel',
  'result',
  'ack',
  'cfg',
  'cmd',
  'time',
] as const
export type Kind = (typeof KINDS)[number]

/** What the hub takes: members it does not know are left aside. */
export const TOLERANT = {
  reading: z.object(SHAPES.reading),
  batch: z.object(SHAPES.batch),
  state: z.object(SHAPES.state),
  birth: z.object(SHAPES.birth),
  channel: z.object(SHAPES.channel),
  result: z.object(SHAPES.result),
  ack: z.object(SHAPES.ack),
  cfg: z.object(SHAPES.cfg),
  cmd: z.object(SHAPES.cmd),
  time: z.object(SHAPES.time),
}

/** What firmware must send: nothing beyond the listed members. */
export const STRICT = {
  reading: TOLERANT.reading.strict(),
  batch: TOLERANT.batch.strict(),
  state: TOLERANT.state.strict(),
  birth: TOLERANT.birth.strict(),
  channel: TOLERANT.channel.strict(),
  result: TOLERANT.result.strict(),
  ack: TOLERANT.ack.strict(),
  cfg: TOLERANT.cfg.strict(),
  cmd: TOLERANT.cmd.strict(),
  time: TOLERANT.time.strict(),
}

export type ReadingBody = z.infer<typeof TOLERANT.reading>
export type BatchBody = z.infer<typeof TOLERANT.batch>
export type StateBody = z.infer<typeof TOLERANT.state>
export type BirthBody = z.infer<typeof TOLERANT.birth>
export type ChannelBody = z.infer<typeof TOLERANT.channel>
export type ResultBody = z.infer<typeof TOLERANT.result>
export type AckBody = z.infer<typeof TOLERANT.ack>
export type CfgBody = z.infer<typeof TOLERANT.cfg>
export type CmdBody = z.infer<typeof TOLERANT.cmd>
export type TimeBody = z.infer<typeof TOLERANT.time>

const CLAUSES: Readonly<Record<Kind, Readonly<Record<string, string>>>> = {
  reading: { b: 'LM-12', n: 'LM-11', u: 'LM-13', t: 'LM-14' },
  batch: { b: 'LM-12', nb: 'LM-12', u: 'LM-13', t: 'LM-14', c: 'LM-08' },
  state: { b: 'LM-05', u: 'LM-06', nx: 'LM-31' },
  birth: { ch: 'LM-08' },
  channel: { q: 'LM-08', u: 'LM-08', from: 'LM-17' },
  result: {},
  ack: { b: 'LM-25', n: 'LM-25' },
  cfg: { iv: 'LM-28', ns: 'LM-28', st: 'LM-28', cv: 'LM-28' },
  cmd: { id: 'LM-29', do: 'LM-29', b: 'LM-29', n: 'LM-29', k: 'LM-29' },
  time: {},
}

/** The requirement a wrong member breaks; LM-10 (valid against its schema) unless it has its own. */
export function clauseOf(kind: Kind, member: PropertyKey | undefined): string {
  const own = typeof member === 'string' ? CLAUSES[kind] : {}
  return typeof member === 'string' && Object.hasOwn(own, member)
    ? (own[member] ?? 'LM-10')
    : 'LM-10'
}

/** "expected ..." for one member of a payload, or null when it has none of that name. */
export function expectationOf(kind: Kind, member: PropertyKey | undefined): string | null {
  const shape: Readonly<Record<string, z.ZodType>> = SHAPES[kind]
  if (typeof member !== 'string' || !Object.hasOwn(shape, member)) return null
  const schema = shape[member]
  if (schema === undefined) return null
  return schema.description ?? (schema instanceof z.ZodOptional ? innerDescription(schema) : null)
}

function innerDescription(schema: z.ZodOptional): string | null {
  const inner = schema.unwrap()
  return inner instanceof z.ZodType ? (inner.description ?? null) : null
}
