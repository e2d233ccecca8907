import { z } from 'zod'
import { toSay } from '../../words/say.ts'
import { COMMANDS } from '../../model/order.ts'
import { epochMs } from './common.ts'

const intervalS = z
  .number()
  .int()
  .min(60)
  .max(86_400)
  .nullable()
  .describe('measuring interval, s; null leaves it to the probe')
const samples = z
  .number()
  .int()
  .min(1)
  .max(256)
  .nullable()
  .describe('samples for one reading; null leaves it to the probe')
const settleS = z
  .number()
  .int()
  .min(0)
  .max(600)
  .nullable()
  .describe('time to settle, s; null leaves it to the probe')

/** Settings wanted of a probe, the whole of them. */
export const settingsInput = z
  .object({ intervalS, samples, settleS })
  .refine(
    (s) => s.intervalS !== null || s.samples !== null || s.settleS !== null,
    toSay('expected at least one setting'),
  )
  .meta({ id: 'SettingsForm' })

export const commandInput = z
  .object({
    what: z.enum(COMMANDS),
    withinS: z
      .number()
      .int()
      .min(60)
      .max(604_800)
      .default(86_400)
      .describe('how long it may wait for a probe that sleeps or is away, s'),
  })
  .meta({ id: 'CommandForm' })

/** What the hub wants of a probe, and what became of it. */
export const orderView = z
  .object({
    id: z.number().int(),
    kind: z.enum(['settings', 'command', 'resend']),
    what: z.enum(COMMANDS).nullable(),
    settings: z.object({ intervalS, samples, settleS }).nullable(),
    boot: z.number().nullable().describe('readings once more: of this boot'),
    from: z.number().nullable().describe('readings once more: from this number'),
    count: z.number().nullable().describe('readings once more: so many'),
    madeAt: epochMs,
    sentAt: epochMs.nullable(),
    times: z.number().int().describe('how often it went out'),
    expiresAt: epochMs.nullable(),
    state: z.enum(['waiting', 'sent', 'done', 'refused', 'expired']),
    answeredAt: epochMs.nullable(),
    reason: z.string().nullable().describe('what the probe said of a refusal'),
  })
  .meta({ id: 'Order' })
export type OrderView = z.infer<typeof orderView>

export const probeOrders = z
  .object({
    settings: orderView.nullable().describe('the newest settings asked for'),
    standing: orderView
      .nullable()
      .describe('the settings that stand for the probe: the newest that it did not refuse'),
    others: z.array(orderView).describe('commands and readings asked for again, newest first'),
  })
  .meta({ id: 'ProbeOrders' })
export type ProbeOrders = z.infer<typeof probeOrders>
