import type { BufferSetId } from '../model/probe.ts'

/** pH of one buffer at a number of temperatures, ascending in temperature. */
interface Buffer {
  readonly name: string
  readonly points: readonly { readonly temperatureC: number; readonly ph: number }[]
}

/** Buffers that belong together. Never mix sets: "pH 7" is 7.00 in one and 6.865 in another. */
export interface BufferSet {
  readonly id: BufferSetId
  readonly name: string
  readonly source: string
  readonly buffers: readonly Buffer[]
}

const rows = (values: Readonly<Record<number, number>>): Buffer['points'] =>
  Object.entries(values)
    .map(([temperatureC, ph]) => ({ temperatureC: Number(temperatureC), ph }))
    .toSorted((a, b) => a.temperatureC - b.temperatureC)

/** The IUPAC rows are recalled; they agree with the printed JIS table to within 0.012. */
export const BUFFER_SETS: readonly BufferSet[] = [
  {
    id: 'technical',
    name: 'Ready-made solutions 4.00, 7.00, 10.01',
    source: 'TECHBUF',
    buffers: [
      {
        name: '4.00',
        points: rows({
          0: 4,
          5: 4,
          10: 4,
          15: 4,
          20: 4,
          25: 4,
          30: 4.01,
          35: 4.02,
          40: 4.03,
          45: 4.04,
          50: 4.06,
        }),
      },
      {
        name: '7.00',
        points: rows({
          0: 7.12,
          5: 7.09,
          10: 7.06,
          15: 7.04,
          20: 7.02,
          25: 7,
          30: 6.99,
          35: 6.99,
          40: 6.98,
          45: 6.98,
          50: 6.97,
        }),
      },
      {
        name: '10.01',
        points: rows({
          0: 10.32,
          5: 10.25,
          10: 10.18,
          15: 10.12,
          20: 10.06,
          25: 10.01,
          30: 9.97,
          35: 9.93,
          40: 9.89,
          45: 9.86,
          50: 9.83,
        }),
      },
    ],
  },
  {
    id: 'iupac_2002',
    name: 'IUPAC 2002 reference buffers',
    source: 'IUPAC2002',
    buffers: [
      {
        name: 'phthalate',
        points: rows({
          5: 3.998,
          10: 3.997,
          15: 3.998,
          20: 4.001,
          25: 4.005,
          30: 4.011,
          35: 4.018,
          40: 4.027,
          50: 4.05,
        }),
      },
      {
        name: 'phosphate',
        points: rows({
          0: 6.984,
          5: 6.951,
          10: 6.923,
          15: 6.9,
          20: 6.881,
          25: 6.865,
          30: 6.853,
          35: 6.844,
          40: 6.838,
          50: 6.833,
        }),
      },
      {
        name: 'borax',
        points: rows({
          0: 9.464,
          5: 9.395,
          10: 9.332,
          15: 9.276,
          20: 9.225,
          25: 9.18,
          30: 9.139,
          35: 9.102,
          40: 9.068,
          50: 9.011,
        }),
      },
      {
        name: 'carbonate',
        points: rows({
          0: 10.317,
          5: 10.245,
          10: 10.179,
          15: 10.118,
          20: 10.062,
          25: 10.012,
          30: 9.966,
          35: 9.926,
          40: 9.889,
          50: 9.828,
        }),
      },
    ],
  },
  {
    id: 'jis_z8802',
    name: 'JIS Z 8802 standard solutions',
    source: 'JISZ8802',
    buffers: [
      {
        name: 'phthalate',
        points: rows({
          0: 4.01,
          5: 4.01,
          10: 4,
          15: 4,
          20: 4,
          25: 4.01,
          30: 4.01,
          35: 4.02,
          40: 4.03,
          45: 4.04,
          50: 4.06,
        }),
      },
      {
        name: 'phosphate',
        points: rows({
          0: 6.98,
          5: 6.95,
          10: 6.92,
          15: 6.9,
          20: 6.88,
          25: 6.86,
          30: 6.85,
          35: 6.84,
          40: 6.84,
          45: 6.83,
          50: 6.83,
        }),
      },
      {
        name: 'borate',
        points: rows({
          0: 9.46,
          5: 9.39,
          10: 9.33,
          15: 9.27,
          20: 9.22,
          25: 9.18,
          30: 9.14,
          35: 9.1,
          40: 9.07,
          45: 9.04,
          50: 9.01,
        }),
      },
      {
        name: 'carbonate',
        points: rows({
          0: 10.32,
          5: 10.25,
          10: 10.18,
          15: 10.12,
          20: 10.07,
          25: 10.02,
          30: 9.97,
          35: 9.93,
        }),
      },
    ],
  },
]

/** Every buffer of a set with its pH at a temperature (degrees Celsius); those outside their table are left out. */
export function buffersAt(
  set: BufferSet,
  temperatureC: number,
): readonly { readonly name: string; readonly ph: number }[] {
  return set.buffers
    .map(({ name }) => ({ name, ph: bufferPh(set.id, name, temperatureC) }))
    .filter(({ ph }) => Number.isFinite(ph))
}

/**
 * pH of a buffer at a temperature (degrees Celsius), straight line between the tabled ones. NaN outside the
 * table, or when the set has no such buffer: a calibration must not rest on a guess.
 */
export function bufferPh(set: BufferSetId, buffer: string, temperatureC: number): number {
  const points =
    BUFFER_SETS.find(({ id }) => id === set)?.buffers.find(({ name }) => name === buffer)?.points ??
    []
  for (let i = 0; i < points.length; i++) {
    const upper = points[i]
    if (upper === undefined || upper.temperatureC < temperatureC) continue
    if (upper.temperatureC === temperatureC) return upper.ph
    const lower = points[i - 1]
    if (lower === undefined) return NaN
    const share = (temperatureC - lower.temperatureC) / (upper.temperatureC - lower.temperatureC)
    return lower.ph + share * (upper.ph - lower.ph)
  }
  return NaN
}
