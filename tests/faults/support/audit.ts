import { expect } from 'vitest'
import type { InfluxTarget } from '#hub/store/influx/influx-client.ts'
import type { ReadingStore } from '#hub/store/reading-store.ts'
import { openStores } from '#hub/store/open.ts'
import { sentOn } from './influx-behind.ts'
import { valuesOf } from './insistent-probes.ts'
import type { InsistentProbes } from './insistent-probes.ts'

/** What a store holds of what probes measured. */
export interface Audit {
  readonly readings: number
  /** Measured, and not in the store. */
  readonly lost: number
  /** In the store more often than once. */
  readonly doubled: number
  /** In the store and never measured, or with other values. */
  readonly madeUp: number
}

const ALWAYS = { from: 0, to: Number.MAX_SAFE_INTEGER }

/**
 * Holds every reading of every probe against the store: each there once, with its own values, hours and days
 * made of exactly those, and the account of the boot saying so.
 */
export async function auditStore(
  readings: ReadingStore,
  probes: Pick<InsistentProbes, 'ids' | 'taken'>,
): Promise<Audit> {
  await readings.settle()
  const sum = { readings: 0, lost: 0, doubled: 0, madeUp: 0 }
  for (const probe of probes.ids) {
    const taken = probes.taken(probe)
    for (const channel of ['m1', 'st'] as const) {
      const steps = ['raw', 'hour', 'day'] as const
      const [raw, hours, days] = await readings.buckets(
        steps.map((step) => ({ probe, channel, ...ALWAYS, step })),
      )
      const times = new Map<number, number>()
      for (const value of raw!.mean) {
        const n = channel === 'm1' ? value : value * 4
        times.set(n, (times.get(n) ?? 0) + 1)
      }
      const known = (n: number): boolean => Number.isInteger(n) && n >= 0 && n < taken
      for (const [n, count] of times) {
        if (!known(n)) sum.madeUp += count
        else sum.doubled += count - 1
      }
      for (let n = 0; n < taken; n++) if (!times.has(n)) sum.lost++
      const rows = raw!.time.length
      const counted = (column: Float64Array): number => column.reduce((a, b) => a + b, 0)
      expect(
        { hours: counted(hours!.count), days: counted(days!.count) },
        `roll-ups of ${channel} of ${probe} hold what is there, each once`,
      ).toEqual({ hours: rows, days: rows })
      const highest = taken === 0 ? undefined : Math.max(...hours!.max)
      if (taken > 0) expect(highest).toBe(valuesOf(taken - 1)[channel])
    }
    if (taken === 0) continue
    const { mark, ahead } = await readings.recall(probe, 1)
    expect({ top: mark?.top, lost: mark?.lost, ahead }, probe).toEqual({
      top: taken - 1,
      lost: 0,
      ahead: [],
    })
    const [account] = await readings.accounts(probe)
    expect(account, probe).toMatchObject({ received: taken, missing: 0, lost: 0, conflicting: 0 })
    sum.readings += account!.received
  }
  const counts = await readings.counts()
  expect(counts).toMatchObject({ readings: sum.readings, lost: 0 })
  return sum
}

/** Opens the folder of a hub that has ended and audits it. */
export async function auditFolder(
  folder: string,
  probes: Pick<InsistentProbes, 'ids' | 'taken'>,
  /** Where its readings went on to. @default nowhere */
  influx?: InfluxTarget,
): Promise<Audit> {
  const stores = await openStores(folder, influx === undefined ? {} : { influx })
  try {
    if (influx !== undefined) await sentOn(stores.readings)
    return await auditStore(stores.readings, probes)
  } finally {
    await stores.close()
  }
}

/** Nothing lost, nothing doubled, nothing made up. */
export function expectWhole(audit: Audit, probes: InsistentProbes): void {
  expect(audit).toEqual({ readings: probes.takenCount(), lost: 0, doubled: 0, madeUp: 0 })
}
