import { DAY, SECOND } from '../model/clock.ts'
import { encodeBatch, encodeReading, PROBE_LIMIT_BYTES } from '../wire/payload.ts'
import { formatTopic } from '../wire/topic.ts'
import { SAMPLE_MS } from './bed-events.ts'
import type { ProbeRecord } from './probe-record.ts'
import type { Random } from './random.ts'
import type { Spell } from './probe-record.ts'
import type { WireMessage } from './wire-messages.ts'

/** A reading on its way: when it was measured, what its clock said, when it reaches the hub. Epoch ms. */
export interface Underway {
  readonly probe: string
  readonly boot: number
  readonly seq: number
  readonly uptimeS: number
  readonly measuredAt: number
  readonly arrivedAt: number
  /** Null: the probe has no clock. */
  readonly deviceAt: number | null
  /** Kept back by the probe and sent in a batch, at this uptime. */
  readonly sentUptimeS: number | null
  readonly values: Readonly<Record<Channel, number | null>>
}

const CHANNELS = ['ph', 'vwc', 'st'] as const
type Channel = (typeof CHANNELS)[number]

/** A message and when it arrives, epoch ms. */
export interface Arriving extends WireMessage {
  readonly arrivedAt: number
}

const BOOT = 4711
/** From measurement to arrival when all is well, ms. */
const FLIGHT_MS = 400

/**
 * What one probe of a labelled bed sends, all of it live. Silent spells leave a hole in time, none in the count.
 *
 * @param phaseMs how long after the start of each quarter it measures
 */
export function liveStream(
  record: ProbeRecord,
  probe: string,
  startMs: number,
  phaseMs: number,
): readonly Underway[] {
  const out: Underway[] = []
  const bootAt = startMs + phaseMs - 60 * SECOND
  const shown = (value: number): number | null => (Number.isNaN(value) ? null : value)
  for (let i = 0; i < record.ph.length; i++) {
    if (Number.isNaN(record.temperatureC[i])) continue
    const measuredAt = startMs + i * SAMPLE_MS + phaseMs
    out.push({
      probe,
      boot: BOOT,
      seq: out.length,
      uptimeS: Math.round((measuredAt - bootAt) / SECOND),
      measuredAt,
      arrivedAt: measuredAt + FLIGHT_MS,
      deviceAt: null,
      sentUptimeS: null,
      values: {
        ph: shown(record.ph[i]!),
        vwc: shown(record.moisture[i]!),
        st: shown(record.temperatureC[i]!),
      },
    })
  }
  return out
}

/** Some readings come again, up to a minute later. */
export function repeated(
  stream: readonly Underway[],
  random: Random,
  share: number,
): readonly Underway[] {
  const copies = stream
    .filter(() => random.chance(share))
    .map((one) => ({ ...one, arrivedAt: one.arrivedAt + Math.round(random.between(0, 60_000)) }))
  return byArrival([...stream, ...copies])
}

/** Readings overtake each other: each is late by up to `mostMs`. */
export function outOfOrder(
  stream: readonly Underway[],
  random: Random,
  mostMs: number,
): readonly Underway[] {
  return byArrival(
    stream.map((one) => ({
      ...one,
      arrivedAt: one.arrivedAt + Math.round(random.between(0, mostMs)),
    })),
  )
}

/**
 * The probe has a clock, and it is wrong: it runs fast by some seconds a day, and may fall back to the date with
 * which it starts.
 *
 * @param reset when it falls back, and the date it starts with, epoch ms. @default never
 */
export function withClock(
  stream: readonly Underway[],
  fastSPerDay: number,
  reset: { readonly at: number; readonly to: number } = { at: Infinity, to: 0 },
): readonly Underway[] {
  const setAt = stream[0]?.measuredAt ?? 0
  return stream.map((one) => {
    const { measuredAt } = one
    const gained = (fastSPerDay * SECOND * (measuredAt - setAt)) / DAY
    const deviceAt = measuredAt >= reset.at ? reset.to + measuredAt - reset.at : measuredAt + gained
    return { ...one, deviceAt: Math.round(deviceAt / SECOND) * SECOND }
  })
}

/** Nothing gets through in these spells; the probe keeps what it measures and sends it with the next live one. */
export function heldBack(
  stream: readonly Underway[],
  spells: readonly Spell[],
): readonly Underway[] {
  return byArrival(
    stream.map((one) => {
      const spell = spells.find(({ from, to }) => one.measuredAt >= from && one.measuredAt < to)
      if (spell === undefined) return one
      const next = stream.find(({ measuredAt }) => measuredAt >= spell.to)
      if (next === undefined) return one
      return { ...one, arrivedAt: next.arrivedAt + SECOND, sentUptimeS: next.uptimeS + 1 }
    }),
  )
}

function byArrival(stream: readonly Underway[]): readonly Underway[] {
  return stream.toSorted((a, b) => a.arrivedAt - b.arrivedAt)
}

/** The messages in which a stream arrives, in order of arrival: live ones singly, those kept back in batches. */
export function messagesOf(stream: readonly Underway[]): readonly Arriving[] {
  const out: Arriving[] = []
  let batch: Underway[] = []
  const flush = (): void => {
    if (batch.length > 0) out.push(batchOf(batch))
    batch = []
  }
  for (const one of stream) {
    if (one.sentUptimeS === null) {
      flush()
      out.push(liveOf(one))
      continue
    }
    const longer = [...batch, one]
    const last = batch.at(-1)
    // A batch holds what was sent at one time, in the order of the count.
    const same = last === undefined || (last.sentUptimeS === one.sentUptimeS && last.seq < one.seq)
    const { topic, payload } = batchOf(longer)
    if (same && topic.length + payload.length <= PROBE_LIMIT_BYTES) {
      batch = longer
    } else {
      flush()
      batch = [one]
    }
  }
  flush()
  return out
}

function liveOf({ probe, boot, seq, uptimeS, deviceAt, values, arrivedAt }: Underway): Arriving {
  const body = { b: boot, n: seq, u: uptimeS, v: { ...values } }
  return {
    topic: formatTopic({ to: 'hub', probe, leaf: 'r' }),
    payload: encodeReading(deviceAt === null ? body : { ...body, t: deviceAt / SECOND }),
    retain: false,
    arrivedAt,
  }
}

function batchOf(rows: readonly Underway[]): Arriving {
  const { probe, boot, sentUptimeS, arrivedAt } = rows[0]!
  return {
    topic: formatTopic({ to: 'hub', probe, leaf: 'b' }),
    payload: encodeBatch({
      b: boot,
      u: sentUptimeS ?? 0,
      c: [...CHANNELS],
      r: rows.map(({ seq, uptimeS, values }) => [
        seq,
        uptimeS,
        ...CHANNELS.map((name) => values[name]),
      ]),
    }),
    retain: false,
    arrivedAt,
  }
}
