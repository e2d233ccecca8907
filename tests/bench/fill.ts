import { HOUR } from '#hub/model/clock.ts'
import type { Reading } from '#hub/model/reading.ts'
import type { ReadingStore } from '#hub/store/reading-store.ts'

const BATCH = 5000
/** Electrode, moisture, soil temperature and supply, as a probe of the demo senses them. */
const CHANNELS = ['phmv', 'm1', 'st', 'bat'] as const

const valueOf = (channel: (typeof CHANNELS)[number], n: number): number => {
  const slow = Math.sin(n / 700)
  switch (channel) {
    case 'phmv':
      return Math.round((20 + 15 * slow + (n % 7)) * 10) / 10
    case 'm1':
      return 1500 + (n % 700)
    case 'st':
      return Math.round((15 + 8 * slow) * 100) / 100
    case 'bat':
      return Math.round((3.9 - (n % 400) / 2000) * 1000) / 1000
  }
}

/**
 * Puts `each` four-value readings of every probe into a store, `everyMs` apart and the last one `everyMs`
 * before `until`, all probes side by side as they would come, and waits until they are settled.
 */
export async function fill(
  store: ReadingStore,
  asked: {
    readonly probes: number
    readonly each: number
    readonly everyMs: number
    readonly until: number
  },
): Promise<void> {
  const { probes, each, everyMs, until } = asked
  const start = until - each * everyMs
  let readings: Reading[] = []
  const send = async (): Promise<void> => {
    await store.append({ readings, anchors: [], marks: [], quarantined: [] })
    readings = []
  }
  for (let n = 0; n < each; n++) {
    for (let probe = 0; probe < probes; probe++) {
      // A few seconds between probes, as in a garden.
      const at = start + n * everyMs + (probe % 60) * 997
      readings.push({
        probe: `bench${probe}`,
        boot: 1,
        seq: n,
        uptimeS: Math.floor((n * everyMs) / 1000),
        at,
        placedBy: 'arrival',
        arrivedAt: at,
        deviceAt: null,
        flags: 0,
        values: CHANNELS.map((channel) => ({ channel, value: valueOf(channel, n + probe) })),
      })
      if (readings.length >= BATCH) await send()
    }
  }
  await send()
  await store.settle()
}

/** A whole hour of no meaning, so that runs are alike. */
export const UNTIL = Math.floor(Date.UTC(2026, 5, 1) / HOUR) * HOUR
