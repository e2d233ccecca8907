import { z } from 'zod'
import { epochMs, wholeText } from './common.ts'

const disk = z.object({
  freeBytes: z.number().min(0),
  totalBytes: z.number().min(0),
})
export type Disk = z.infer<typeof disk>

const intakeLog = z.object({
  state: z.enum(['up', 'connecting', 'down']),
  since: epochMs,
  problem: z.string().nullable(),
  logs: z.array(
    z.object({
      writer: z.string().describe('client id of the ingest process'),
      spool: z.string().describe('its spool: another one when its data folder was lost'),
      row: z.number().describe('the last message taken'),
      behind: z.number().describe('messages that wait in the log'),
      clockOffMs: z
        .number()
        .nullable()
        .describe('its clock against that of the hub, positive: ahead; null: not told apart'),
      silentSince: epochMs
        .nullable()
        .describe('since when its process has said nothing; null while it does'),
      problem: z.string().nullable(),
    }),
  ),
})

const influx = z.object({
  state: z.enum(['up', 'down']),
  since: epochMs,
  problem: z.string().nullable(),
  waiting: z.number().describe('readings on their way there; they are kept here meanwhile'),
  refused: z
    .number()
    .describe('readings it does not take; they stay here and are answered from here'),
  why: z.string().nullable().describe('why it did not take the newest of them'),
})

export const health = z
  .object({
    status: z.enum(['ok', 'trouble']),
    version: z.string(),
    startedAt: epochMs,
    now: epochMs,
    broker: z.object({
      kind: z.enum(['embedded', 'external']),
      state: z.enum(['up', 'connecting', 'down']),
      address: z.string(),
      since: epochMs,
      problem: z.string().nullable(),
    }),
    store: z.object({
      state: z.enum(['up', 'down']),
      problem: z.string().nullable(),
      about: z
        .literal('damaged readings')
        .optional()
        .describe('the problem is that there are some; left out where it is another'),
    }),
    intakeLog: intakeLog
      .nullable()
      .optional()
      .describe(
        'how far a serving hub has taken what ingest processes took; null: it takes readings itself',
      ),
    influx: influx
      .nullable()
      .optional()
      .describe('the InfluxDB that keeps the readings; null: the hub keeps them itself'),
    disk: disk
      .nullable()
      .optional()
      .describe('of the folder the data are in; null or left out: cannot be told'),
    evaluation: z.object({ lastAt: epochMs.nullable(), problem: z.string().nullable() }),
    counts: z.object({
      readings: z.number(),
      duplicates: z.number(),
      quarantined: z.number().describe('messages that were put in quarantine'),
      quarantineDropped: z
        .number()
        .describe('of these: left it again, as only the newest 64 MiB are kept'),
      lost: z.number(),
      damaged: z
        .number()
        .describe('readings that were found damaged on the disk and nobody has settled yet'),
      probes: z.number(),
      strangers: z.number(),
    }),
    demo: z.boolean(),
    loading: z
      .object({ what: z.string(), done: z.number().min(0).max(1) })
      .nullable()
      .describe('long work under way, such as the demo history'),
  })
  .meta({ id: 'Health' })
export type Health = z.infer<typeof health>

export const quarantineRow = z
  .object({
    id: z.number(),
    arrivedAt: epochMs,
    topic: z.string(),
    payload: z.string().describe('as text where it is text, else hexadecimal'),
    reason: z.string(),
  })
  .meta({ id: 'Quarantined' })
export type QuarantineView = z.infer<typeof quarantineRow>
export const quarantineQuery = z.object({
  limit: wholeText(1, 500).default(50),
})
