import type { Texture } from '../../model/bed.ts'
import type { PublishedRate } from '../soil-rates.ts'

/** g/m2 in the units of the trade. */
export const G_M2_PER_LB_100_SQ_FT = 48.8243
export const G_M2_PER_LB_1000_SQ_FT = 4.88243
export const G_M2_PER_LB_ACRE = 0.1120851
export const G_M2_PER_T_HA = 100

const INCH_M = 0.0254

/** A column of a table that leads to one pH: the amount from each pH. */
function column(
  rate: Omit<PublishedRate, 'fromPh' | 'gM2' | 'printed' | 'perPh'>,
  unit: string,
  gM2: number,
  rows: readonly (readonly [fromPh: number, amount: number])[],
): PublishedRate[] {
  return rows.map(([fromPh, amount]) => ({
    ...rate,
    fromPh,
    gM2: amount * gM2,
    printed: `${amount} ${unit}`,
    perPh: false,
  }))
}

/** Ground limestone to come to pH 6.5, from two tables that are reprinted in many places. */
function limeTables(): PublishedRate[] {
  const a: readonly (readonly [Texture, readonly number[]])[] = [
    ['sandy loam', [11.5, 9.5, 8, 6, 3]],
    ['loam', [16, 13.5, 10.5, 8, 4]],
    ['clay loam', [23, 19.5, 15, 10.5, 5.5]],
  ]
  const b: readonly (readonly [Texture, readonly number[]])[] = [
    ['sand', [100, 80, 65, 45, 20]],
    ['loam', [175, 150, 110, 75, 35]],
    ['clay', [230, 200, 150, 100, 50]],
  ]
  const from = [4, 4.5, 5, 5.5, 6]
  const rows = (amounts: readonly number[]) =>
    amounts.map((amount, i) => [from[i] ?? NaN, amount] as const)
  const common = { material: 'limestone', toPh: 6.5, depthM: null } as const
  return [
    ...a.flatMap(([texture, amounts]) =>
      column(
        { ...common, texture, soil: texture, source: 'LIME_TBL_A' },
        'lb/100 sq ft',
        G_M2_PER_LB_100_SQ_FT,
        rows(amounts),
      ),
    ),
    ...b.flatMap(([texture, amounts]) =>
      column(
        { ...common, texture, soil: texture, source: 'LIME_TBL_B' },
        'lb/1000 sq ft',
        G_M2_PER_LB_1000_SQ_FT,
        rows(amounts),
      ),
    ),
  ]
}

/** Ground chalk or limestone to come to pH 6.5, from a textbook: about twice what the garden tables print. */
function limeTextbook(): PublishedRate[] {
  const soils: readonly (readonly [soil: string, Texture, readonly number[]])[] = [
    ['light: very sandy, low clay', 'sand', [1000, 700, 400]],
    ['loams', 'loam', [1200, 800, 500]],
    ['heavy: very high clay content', 'clay', [1400, 1000, 600]],
  ]
  return soils.flatMap(([soil, texture, amounts]) =>
    column(
      { material: 'limestone', texture, soil, toPh: 6.5, depthM: null, source: 'PRINC_HORT' },
      'g/m2',
      1,
      amounts.map((amount, i) => [5 + i / 2, amount] as const),
    ),
  )
}

/** A worked exercise of a course: a factor of 8 t/ha for one pH on heavy clay. */
function limeExercise(): PublishedRate[] {
  return column(
    {
      material: 'limestone',
      texture: 'clay',
      soil: 'heavy clay',
      toPh: 7.5,
      depthM: null,
      source: 'COURSE_UK',
    },
    'g/m2',
    1,
    [[6, 1200]],
  )
}

/** Factors of a national guide, recalled; that of clay agrees with a course exercise. */
function limeFactors(): PublishedRate[] {
  const groups: readonly (readonly [soil: string, tHa: number, readonly Texture[]])[] = [
    ['sand and loamy sand', 6, ['sand', 'loamy sand']],
    [
      'sandy loam, silt loam, clay loam and the like',
      7,
      [
        'sandy loam',
        'loam',
        'silt loam',
        'silt',
        'sandy clay loam',
        'clay loam',
        'silty clay loam',
      ],
    ],
    ['clay', 8, ['sandy clay', 'silty clay', 'clay']],
  ]
  return groups.flatMap(([soil, tHa, textures]) =>
    textures.map((texture) => ({
      material: 'limestone' as const,
      texture,
      soil,
      fromPh: 5.5,
      toPh: 6.5,
      gM2: tHa * G_M2_PER_T_HA,
      depthM: 0.2,
      printed: `${tHa} t/ha for one pH (recalled)`,
      source: 'RB209_FACTOR',
      perPh: true,
    })),
  )
}

/** Sulfur that lowers by one pH wherever that one lies. */
function sulfurPerPh(
  source: string,
  depthM: number | null,
  unit: string,
  gM2: number,
  rows: readonly (readonly [soil: string, Texture, amount: number])[],
): PublishedRate[] {
  return rows.map(([soil, texture, amount]) => ({
    material: 'sulfur',
    texture,
    soil,
    fromPh: 6.5,
    toPh: 5.5,
    gM2: amount * gM2,
    depthM,
    printed: `${amount} ${unit} for one pH`,
    source,
    perPh: true,
  }))
}

/** Sulfur pH by pH: the lower, the more. */
function sulfurSteps(): PublishedRate[] {
  const soils: readonly (readonly [Texture, readonly [number, number, number]])[] = [
    ['sand', [0.7, 1.8, 1.8]],
    ['sandy loam', [1.2, 2.8, 2.8]],
    ['loam', [1.6, 3.2, 3.2]],
    ['clay loam', [2.5, 3.2, 4.1]],
  ]
  return soils.flatMap(([texture, amounts]) =>
    amounts.map((amount, i) => ({
      material: 'sulfur' as const,
      texture,
      soil: texture,
      fromPh: 7 - i,
      toPh: 6 - i,
      gM2: amount * G_M2_PER_LB_100_SQ_FT,
      depthM: 7 * INCH_M,
      printed: `${amount} lb/100 sq ft`,
      source: 'ILL_S',
      perPh: false,
    })),
  )
}

/** Sulfur to come to pH 4.5. */
function sulfurForBlueberries(): PublishedRate[] {
  const soils: readonly (readonly [Texture, readonly number[]])[] = [
    ['sand', [175, 350, 530, 660, 840]],
    ['loam', [530, 1030, 1540, 2020, 2560]],
    ['clay', [800, 1600, 2300, 3030, 3830]],
  ]
  return soils.flatMap(([texture, amounts]) =>
    column(
      {
        material: 'sulfur',
        texture,
        soil: texture,
        toPh: 4.5,
        depthM: null,
        source: 'MSU_TERRA',
      },
      'lb/acre',
      G_M2_PER_LB_ACRE,
      amounts.map((amount, i) => [5 + i / 2, amount] as const),
    ),
  )
}

const PER_100 = ['lb/100 sq ft', G_M2_PER_LB_100_SQ_FT] as const
const PER_1000 = ['lb/1000 sq ft', G_M2_PER_LB_1000_SQ_FT] as const

/**
 * As printed, each row for the texture it was printed for. Left out: a rate without a soil (100 lb/acre for a tenth
 * of a pH, UME254), and a table of sulfur that is a copy of the one of limestone and would overdose several times
 * (it circulates in the text ISU_NAFEX quotes).
 */
export const PUBLISHED: readonly PublishedRate[] = [
  ...limeTables(),
  ...limeTextbook(),
  ...limeExercise(),
  ...limeFactors(),
  ...sulfurPerPh('PUR_AKERS', null, ...PER_1000, [
    ['sand', 'sand', 7],
    ['loam', 'loam', 11],
    ['clay', 'clay', 17],
  ]),
  ...sulfurSteps(),
  ...sulfurPerPh('MN_ASK', null, ...PER_100, [
    ['sandy', 'sand', 0.8],
    ['loam', 'loam', 2.4],
  ]),
  ...sulfurPerPh('EXT_BLUE', null, ...PER_100, [
    ['sandy, less than 2 % organic matter', 'sand', 1],
    ['heavier, or more organic matter', 'loam', 2],
    ['heavier', 'silt', 2],
    ['heavier', 'clay loam', 2],
    ['heavier', 'clay', 2],
  ]),
  // Printed for a tenth of a pH; a third less on coarse and a third more on fine soil.
  ...sulfurPerPh('UT_BLUE', 3 * INCH_M, ...PER_1000, [
    ['coarse: a third less than 20', 'sand', 13.33],
    ['silt loam: 2.0 for a tenth of a pH', 'silt loam', 20],
    ['fine: a third more than 20', 'clay', 26.67],
  ]),
  ...sulfurForBlueberries(),
  ...sulfurPerPh('RHS_ACID', 0.15, 'g/m2', 1, [
    ['sandy, the low end of its range', 'sand', 135],
    ['clay, the high end of its range', 'clay', 270],
  ]),
]
