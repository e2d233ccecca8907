import type { DamagedStretch } from './damage.ts'
import type { ReadingStore } from './reading-store.ts'

/** Where a probe was, from and to, epoch ms. */
interface Sitting {
  readonly probe: string
  readonly from: number
  readonly to: number
}

/**
 * Stretches in which readings of these are missing because they were damaged, ascending. Asked after the readings: who
 * reads first, meets the damage first.
 */
export async function damagedIn(
  readings: ReadingStore,
  sittings: readonly Sitting[],
): Promise<Omit<DamagedStretch, 'probe' | 'what'>[]> {
  if (sittings.length === 0) return []
  const found = await readings.damage.within(
    [...new Set(sittings.map(({ probe }) => probe))],
    Math.min(...sittings.map(({ from }) => from)),
    Math.max(...sittings.map(({ to }) => to)),
  )
  return found.flatMap(({ probe, from, to, readings: n, gone }) =>
    sittings.flatMap((one) =>
      one.probe === probe && one.from < to && one.to > from
        ? [{ from: Math.max(from, one.from), to: Math.min(to, one.to), readings: n, gone }]
        : [],
    ),
  )
}
