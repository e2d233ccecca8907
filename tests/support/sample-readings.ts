import type { IntakeBatch, Reading } from '#hub/model/reading.ts'

/** A reading of an invented probe; `values` by channel name. */
export function sampleReading(
  some: Partial<Omit<Reading, 'values'>> & { values?: Readonly<Record<string, number>> } = {},
): Reading {
  const { values = { e1: -41.5 }, seq = 0, at = 1_750_000_000_000 + seq * 600_000, ...rest } = some
  return {
    probe: 'row1',
    boot: 1,
    seq,
    uptimeS: 3 + seq * 600,
    at,
    placedBy: 'arrival',
    arrivedAt: at,
    deviceAt: null,
    flags: 0,
    ...rest,
    values: Object.entries(values).map(([channel, value]) => ({ channel, value })),
  }
}

/** A batch with the given parts and nothing else. */
export const batchOf = (parts: Partial<IntakeBatch>): IntakeBatch => ({
  readings: [],
  anchors: [],
  marks: [],
  quarantined: [],
  ...parts,
})
