import { SECOND } from '../model/clock.ts'
import { PLAIN_BOOT, type ChannelValue, type Reading } from '../model/reading.ts'
import type { Decoded } from '../wire/payload.ts'
import { placeLate, placeLive } from '../wire/time.ts'
import type { BootAnchor } from '../wire/time.ts'

interface Came {
  readonly arrivedAt: number
  readonly mayBeDelayed: boolean
}

/** The reading in a live message. `isAnchor`: its arrival tells the hub's clock at its uptime. */
export function readingOf(
  message: Extract<Decoded, { kind: 'reading' }>,
  came: Came,
  anchors: readonly BootAnchor[],
): { reading: Reading; isAnchor: boolean } {
  const { b, n, u, t, f, v, s } = message.body
  const deviceAt = t === undefined ? null : t * SECOND
  const { at, placedBy, isAnchor } = placeLive(anchors, {
    uptimeS: u,
    arrivedAt: came.arrivedAt,
    deviceAt,
    mayBeDelayed: came.mayBeDelayed,
  })
  const values = Object.keys(v).map((channel): ChannelValue => ({
    channel,
    value: v[channel] ?? NaN,
  }))
  for (const channel in s) values.push({ channel: `${channel}.s`, value: s[channel] ?? NaN })
  return {
    reading: {
      probe: message.probe,
      boot: b,
      seq: n,
      uptimeS: u,
      at: Math.round(at),
      placedBy,
      arrivedAt: came.arrivedAt,
      deviceAt,
      flags: f ?? 0,
      values,
    },
    isAnchor,
  }
}

/**
 * The readings in a batch. `anchors` belong to the boot of the rows, `presentAnchors` to the boot that sent
 * them. Rows of an earlier boot without any anchor end, at the latest, when the present boot began.
 */
export function rowsOf(
  message: Extract<Decoded, { kind: 'batch' }>,
  came: Came,
  anchors: readonly BootAnchor[],
  presentAnchors: readonly BootAnchor[],
): readonly Reading[] {
  const { b, nb, u, t, c, r } = message.body
  const { arrivedAt } = came
  const sentUptimeS = nb === undefined ? u : (r.at(-1)?.[1] ?? 0)
  const presentBegan =
    (presentAnchors[0]?.at ?? arrivedAt) - (presentAnchors[0]?.uptimeS ?? u) * SECOND
  const latest = nb === undefined ? arrivedAt : Math.min(arrivedAt, presentBegan)
  return r.map((row) => {
    const [seq, uptime, ...values] = row
    const uptimeS = uptime ?? 0
    const { at, placedBy } = placeLate(anchors, {
      uptimeS,
      arrivedAt,
      latestAt: latest - (sentUptimeS - uptimeS) * SECOND,
    })
    return {
      probe: message.probe,
      boot: b,
      seq: seq ?? 0,
      uptimeS,
      at: Math.round(at),
      placedBy,
      arrivedAt,
      // Its clock said `t` when it sent; uptime tells how long before that the row was measured.
      deviceAt: t === undefined || nb !== undefined ? null : (t - (u - uptimeS)) * SECOND,
      flags: 0,
      values: c.map((channel, i) => ({ channel, value: values[i] ?? NaN })),
    }
  })
}

/**
 * A plain number carries neither boot nor sequence. It is filed under the boot id no probe may use, numbered
 * as it comes; the store's memory of that boot carries the numbering over a restart. A broker that delivers
 * the same number twice (the hub died between commit and acknowledgement) thus leaves it twice, at two
 * times; nothing is ever overwritten or lost.
 */
export function plainReading(
  message: Extract<Decoded, { kind: 'plain' }>,
  came: Came,
  seq: number,
): Reading {
  return {
    probe: message.probe,
    boot: PLAIN_BOOT,
    seq,
    uptimeS: Math.floor(came.arrivedAt / 1000),
    at: came.arrivedAt,
    placedBy: came.mayBeDelayed ? 'bounded' : 'arrival',
    arrivedAt: came.arrivedAt,
    deviceAt: null,
    flags: 0,
    values: [{ channel: message.channel, value: message.value ?? NaN }],
  }
}
