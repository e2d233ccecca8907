import type { Texture } from '../model/bed.ts'

/** Water a soil holds, m3 of water in 1 m3 of soil. */
export interface TextureRow {
  readonly name: Texture
  /** Drained for a day or two after a soaking. */
  readonly fieldCapacity: number
  /** Where plants can draw no more. */
  readonly wiltingPoint: number
  readonly saturation: number
  readonly source: string
  /** The range FAO-56 Table 19 prints for the class, where it has it. */
  readonly fao56: {
    readonly fieldCapacity: readonly [number, number]
    readonly wiltingPoint: readonly [number, number]
  } | null
  readonly note: string
}

const RECALLED = 'row of the Saxton-Rawls table recalled'

/**
 * Texture classes with one working value each, from Saxton and Rawls 2006, Table 3. Fill of raised beds is
 * none of these classes and no published table was seen: its row is the middle of a recalled range, to be
 * replaced by what the bed itself shows.
 */
export const TEXTURE_TABLE: readonly TextureRow[] = [
  {
    name: 'sand',
    fieldCapacity: 0.1,
    wiltingPoint: 0.05,
    saturation: 0.46,
    source: 'SR2006',
    fao56: { fieldCapacity: [0.07, 0.17], wiltingPoint: [0.02, 0.07] },
    note: '',
  },
  {
    name: 'loamy sand',
    fieldCapacity: 0.12,
    wiltingPoint: 0.05,
    saturation: 0.46,
    source: 'SR2006',
    fao56: { fieldCapacity: [0.11, 0.19], wiltingPoint: [0.03, 0.1] },
    note: '',
  },
  {
    name: 'sandy loam',
    fieldCapacity: 0.18,
    wiltingPoint: 0.08,
    saturation: 0.45,
    source: 'SR2006',
    fao56: { fieldCapacity: [0.18, 0.28], wiltingPoint: [0.06, 0.16] },
    note: '',
  },
  {
    name: 'loam',
    fieldCapacity: 0.28,
    wiltingPoint: 0.14,
    saturation: 0.46,
    source: 'SR2006',
    fao56: { fieldCapacity: [0.2, 0.3], wiltingPoint: [0.07, 0.17] },
    note: '',
  },
  {
    name: 'silt loam',
    fieldCapacity: 0.31,
    wiltingPoint: 0.11,
    saturation: 0.48,
    source: 'SR2006',
    fao56: { fieldCapacity: [0.22, 0.36], wiltingPoint: [0.09, 0.21] },
    note: '',
  },
  {
    name: 'silt',
    fieldCapacity: 0.3,
    wiltingPoint: 0.06,
    saturation: 0.48,
    source: 'SR2006',
    fao56: { fieldCapacity: [0.28, 0.36], wiltingPoint: [0.12, 0.22] },
    note: '',
  },
  {
    name: 'sandy clay loam',
    fieldCapacity: 0.27,
    wiltingPoint: 0.17,
    saturation: 0.43,
    source: 'SR2006',
    fao56: null,
    note: '',
  },
  {
    name: 'clay loam',
    fieldCapacity: 0.36,
    wiltingPoint: 0.22,
    saturation: 0.48,
    source: 'SR2006',
    fao56: null,
    note: '',
  },
  {
    name: 'silty clay loam',
    fieldCapacity: 0.38,
    wiltingPoint: 0.22,
    saturation: 0.51,
    source: 'SR2006',
    fao56: { fieldCapacity: [0.3, 0.37], wiltingPoint: [0.17, 0.24] },
    note: '',
  },
  {
    name: 'sandy clay',
    fieldCapacity: 0.36,
    wiltingPoint: 0.25,
    saturation: 0.44,
    source: 'MEM',
    fao56: null,
    note: RECALLED,
  },
  {
    name: 'silty clay',
    fieldCapacity: 0.41,
    wiltingPoint: 0.27,
    saturation: 0.52,
    source: 'SR2006',
    fao56: { fieldCapacity: [0.3, 0.42], wiltingPoint: [0.17, 0.29] },
    note: '',
  },
  {
    name: 'clay',
    fieldCapacity: 0.42,
    wiltingPoint: 0.3,
    saturation: 0.5,
    source: 'MEM',
    fao56: { fieldCapacity: [0.32, 0.4], wiltingPoint: [0.2, 0.24] },
    note: RECALLED,
  },
  {
    name: 'raised-bed mix',
    fieldCapacity: 0.425,
    wiltingPoint: 0.175,
    saturation: 0.7,
    source: 'MEM',
    fao56: null,
    note: 'middle of field capacity 0.30 to 0.55 and wilting point 0.10 to 0.25',
  },
]

const byName = new Map(TEXTURE_TABLE.map((row) => [row.name, row]))

export function textureRow(name: Texture): TextureRow {
  const row = byName.get(name)
  if (row === undefined) throw new Error(`no row for texture '${name}'`)
  return row
}
