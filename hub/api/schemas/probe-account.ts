import { z } from 'zod'
import { epochMs } from './common.ts'
import { probeOrders } from './order.ts'
import { probeView } from './probe.ts'

const counted = z.number().int().min(0)

/** What became of readings, of one boot or of all. */
const accountFigures = {
  received: counted.describe('stored, each once'),
  late: counted.describe('of the received: not sent when they were measured'),
  duplicates: counted.describe('arrivals of a reading already stored'),
  missing: counted.describe('absent so far, may still come'),
  writtenOff: counted.describe('the probe no longer holds them'),
  conflicting: counted.describe('the same number with other content: a fault of the firmware'),
  placed: z
    .object({
      arrival: counted,
      device: counted,
      anchors: counted,
      bounded: counted,
      file: counted,
    })
    .describe('how the received were placed in time; bounded ones stay out of trends'),
}

/** The losses of one probe over all its boots. */
export const probeLosses = z
  .object({ probe: z.string(), received: counted, missing: counted, writtenOff: counted })
  .meta({ id: 'ProbeLosses' })
export type ProbeLosses = z.infer<typeof probeLosses>

/** What happened to the readings of a probe, how sure that is, what to do. */
export const probeAccount = z
  .object({
    total: z.object(accountFigures),
    boots: z
      .array(z.object({ boot: z.number(), firstAt: epochMs, lastAt: epochMs, ...accountFigures }))
      .describe('the newest first, a hundred at most; the total covers all'),
    newest: z
      .array(
        z.object({
          boot: z.number(),
          seq: z.number(),
          at: epochMs.describe('when it was measured; bounded: at the latest'),
          arrivedAt: epochMs,
          placedBy: z.enum(['arrival', 'device', 'anchors', 'bounded', 'file']),
        }),
      )
      .describe('the newest readings, and how each was placed in time'),
    sentences: z.array(z.string()).describe('what happened, how sure, what to do'),
  })
  .meta({ id: 'ProbeAccount' })
export type ProbeAccount = z.infer<typeof probeAccount>

/** A probe with what became of its readings and of what it was asked for. */
export const probeDetail = probeView
  .extend({ account: probeAccount, orders: probeOrders })
  .meta({ id: 'ProbeDetail' })
export type ProbeDetail = z.infer<typeof probeDetail>
