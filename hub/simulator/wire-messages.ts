import {
  encodeBatch,
  encodeBirth,
  encodeChannel,
  encodeReading,
  encodeState,
  PROBE_LIMIT_BYTES,
} from '../wire/payload.ts'
import { formatTopic } from '../wire/topic.ts'
import type { Measured } from './faults.ts'
import {
  COUNT_LIMIT,
  EMF_LIMIT_MV,
  EMF_STEP_MV,
  TEMPERATURE_STEP_C,
  type Measurement,
} from './probe.ts'
import type { ScenarioProbe } from './scenario.ts'

/** A message as it goes over the wire. */
export interface WireMessage {
  readonly topic: string
  readonly payload: string
  /** Left with the broker for whoever comes later. */
  readonly retain: boolean
}

/** A measurement with its place in the probe's own count. */
export interface Counted extends Measurement {
  readonly boot: number
  readonly seq: number
  readonly uptimeS: number
}

const CHANNELS = ['phmv', 'm1', 'st', 'bat'] as const satisfies readonly (keyof Measured)[]
/** The shortest interval a birth message may announce, s. */
const LEAST_INTERVAL_S = 10

/** What a probe says when it comes up: state, what it is, and one message for each channel. */
export function hello(
  probe: ScenarioProbe,
  boot: number,
  uptimeS: number,
  intervalMs: number,
  firmware: string,
  /** Version of the settings in force; null: none were ever taken. @default null */
  settings: number | null = null,
): readonly WireMessage[] {
  const { id } = probe
  const ch = (channel: string): string => formatTopic({ to: 'hub', probe: id, leaf: 'ch', channel })
  return [
    {
      topic: formatTopic({ to: 'hub', probe: id, leaf: 'state' }),
      payload: encodeState({ s: 'on', b: boot, u: uptimeS }),
      retain: true,
    },
    {
      topic: formatTopic({ to: 'hub', probe: id, leaf: 'birth' }),
      payload: encodeBirth({
        p: 1,
        fw: firmware,
        hw: 'simulated',
        b: boot,
        u: uptimeS,
        iv: Math.max(LEAST_INTERVAL_S, Math.round(intervalMs / 1000)),
        ch: CHANNELS.join(','),
        ...(settings === null ? {} : { cv: settings }),
        buf: probe.buffer,
      }),
      retain: true,
    },
    {
      topic: ch('phmv'),
      payload: encodeChannel({
        q: 'ph.emf',
        u: 'mV',
        d: probe.depthM,
        lo: -EMF_LIMIT_MV,
        hi: EMF_LIMIT_MV - EMF_STEP_MV,
        lsb: EMF_STEP_MV,
      }),
      retain: true,
    },
    {
      topic: ch('m1'),
      payload: encodeChannel({
        q: 'moist.raw',
        u: 'count',
        d: probe.depthM,
        lo: 0,
        hi: COUNT_LIMIT,
        lsb: 1,
      }),
      retain: true,
    },
    {
      topic: ch('st'),
      payload: encodeChannel({
        q: 'temp.soil',
        u: 'Cel',
        d: probe.depthM,
        lsb: TEMPERATURE_STEP_C,
      }),
      retain: true,
    },
    { topic: ch('bat'), payload: encodeChannel({ q: 'bat', u: 'V', lsb: 0.01 }), retain: true },
  ]
}

/** What the broker says for a probe that went silent, and the probe itself before it leaves. */
export function goodbye(probe: string, boot: number): WireMessage {
  return {
    topic: formatTopic({ to: 'hub', probe, leaf: 'state' }),
    payload: encodeState({ s: 'off', b: boot }),
    retain: true,
  }
}

/** A reading sent as soon as it was measured. */
export function liveMessage(
  probe: string,
  one: Counted,
  /** Spread of the samples behind the electrode voltage, mV; null: not sent. @default null */
  spreadMv: number | null = null,
): WireMessage {
  const { boot: b, seq: n, uptimeS: u, flags: f, values } = one
  return {
    topic: formatTopic({ to: 'hub', probe, leaf: 'r' }),
    payload: encodeReading({
      b,
      n,
      u,
      ...(f === 0 ? {} : { f }),
      v: { ...values },
      ...(spreadMv === null ? {} : { s: { phmv: spreadMv } }),
    }),
    retain: false,
  }
}

/** A batch and the newest reading in it. */
export interface LateMessage extends WireMessage {
  readonly last: number
}

/**
 * Readings of one boot that could not be sent when measured, oldest first, as many messages as it takes:
 * each is filled up to what the smallest client libraries can send.
 *
 * @param uptimeS uptime at the moment of sending
 */
export function lateMessages(
  probe: string,
  held: readonly Counted[],
  uptimeS: number,
): readonly LateMessage[] {
  const topic = formatTopic({ to: 'hub', probe, leaf: 'b' })
  const messages: LateMessage[] = []
  const close = (rows: readonly Counted[]): void => {
    messages.push({ topic, payload: pack(rows), retain: false, last: rows.at(-1)!.seq })
  }
  const pack = (rows: readonly Counted[]): string =>
    encodeBatch({
      b: rows[0]!.boot,
      u: uptimeS,
      c: [...CHANNELS],
      r: rows.map((row) => [row.seq, row.uptimeS, ...CHANNELS.map((name) => row.values[name])]),
    })
  let rows: Counted[] = []
  for (const one of held) {
    const longer = [...rows, one]
    if (rows.length > 0 && topic.length + pack(longer).length > PROBE_LIMIT_BYTES) {
      close(rows)
      rows = [one]
    } else {
      rows = longer
    }
  }
  if (rows.length > 0) close(rows)
  return messages
}
