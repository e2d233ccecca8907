import { expect, test } from 'vitest'
import { PUBLISHED_RATES, bulkDensityOf, soilRate } from '#hub/agronomy/soil-rates.ts'
import {
  G_M2_PER_LB_100_SQ_FT,
  G_M2_PER_LB_1000_SQ_FT,
  G_M2_PER_LB_ACRE,
} from '#hub/agronomy/rate-data/published-rates.ts'
import { sourceById } from '#hub/agronomy/sources.ts'
import { TEXTURES } from '#hub/model/bed.ts'
import type { Texture } from '#hub/model/bed.ts'

/** Exact by definition: pound, foot and acre. */
const POUND_G = 453.59237
const SQ_FT_M2 = 0.3048 ** 2
const ACRE_SQ_FT = 43_560

/** The nearest coarser and finer classes that a garden table prints, of those next to each other in the triangle. */
const AROUND: Record<Exclude<Texture, 'raised-bed mix'>, readonly Texture[]> = {
  sand: ['sandy loam'],
  'loamy sand': ['sand', 'sandy loam'],
  'sandy loam': ['sand', 'loam'],
  loam: ['sandy loam', 'clay loam'],
  'silt loam': ['sandy loam', 'loam', 'clay loam'],
  silt: ['sandy loam', 'loam', 'silt loam'],
  'sandy clay loam': ['sandy loam', 'loam', 'clay loam'],
  'clay loam': ['loam', 'clay'],
  'silty clay loam': ['loam', 'silt loam', 'clay loam', 'clay'],
  'sandy clay': ['loam', 'clay loam', 'clay'],
  'silty clay': ['clay loam', 'clay'],
  clay: ['clay loam'],
}
const CLASSES = TEXTURES.filter((texture) => texture !== 'raised-bed mix')

const compared = new Set<string>()

/** g/m2 for one pH, as printed and brought to 15 cm where the source gives a depth. */
function perPh(
  material: 'limestone' | 'sulfur',
  textures: readonly Texture[],
  which: 'all' | 'read ones' = 'all',
): number[] {
  return PUBLISHED_RATES.filter(
    (row) =>
      row.material === material &&
      textures.includes(row.texture) &&
      (which === 'all' || sourceById(row.source).seen !== 'from memory'),
  ).flatMap(({ gM2, fromPh, toPh, depthM }) => {
    const one = gM2 / Math.abs(fromPh - toPh)
    return depthM === null ? [one] : [one, (one * 0.15) / depthM]
  })
}

test('every published row has its publication, a change in the right direction and a figure', () => {
  for (const row of PUBLISHED_RATES) {
    expect(sourceById(row.source).publisher).not.toBe('')
    expect(row.gM2).toBeGreaterThan(0)
    if (row.material === 'limestone') expect(row.toPh).toBeGreaterThan(row.fromPh)
    else expect(row.toPh).toBeLessThan(row.fromPh)
    expect(row.printed, row.source).toMatch(/^[\d.]+ (lb\/|t\/ha|g\/m2)/)
    expect(row.depthM === null || (row.depthM > 0.05 && row.depthM < 0.25)).toBe(true)
  }
  const from = (material: string) =>
    PUBLISHED_RATES.filter((row) => row.material === material).length
  expect(from('limestone')).toBeGreaterThanOrEqual(30)
  expect(from('sulfur')).toBeGreaterThanOrEqual(30)
  expect(new Set(PUBLISHED_RATES.map(({ source }) => source)).size).toBeGreaterThanOrEqual(9)
})

test('the figure is the printed one in g/m2, by the pound, the foot and the acre themselves', () => {
  const units: Record<string, number> = {
    'lb/100 sq ft': POUND_G / (100 * SQ_FT_M2),
    'lb/1000 sq ft': POUND_G / (1000 * SQ_FT_M2),
    'lb/acre': POUND_G / (ACRE_SQ_FT * SQ_FT_M2),
    't/ha': 100,
    'g/m2': 1,
  }
  for (const { printed, gM2 } of PUBLISHED_RATES) {
    const [, amount, unit] = /^([\d.]+) (lb\/\S+ sq ft|lb\/acre|t\/ha|g\/m2)/.exec(printed) ?? []
    const grams = Number(amount) * (units[unit ?? ''] ?? NaN)
    expect(Math.abs(gM2 / grams - 1), printed).toBeLessThan(2e-6)
  }
  expect(G_M2_PER_LB_100_SQ_FT).toBe(48.8243)
  expect(G_M2_PER_LB_1000_SQ_FT).toBe(4.88243)
  expect(G_M2_PER_LB_ACRE).toBe(0.1120851)
})

/** As the sources named print it. */
test.each([
  ['LIME_TBL_A', 'loam', 5.5, 6.5, '8 lb/100 sq ft', 390.6],
  ['LIME_TBL_A', 'sandy loam', 5, 6.5, '8 lb/100 sq ft', 390.6],
  ['LIME_TBL_A', 'clay loam', 5.5, 6.5, '10.5 lb/100 sq ft', 512.7],
  ['LIME_TBL_A', 'sandy loam', 4, 6.5, '11.5 lb/100 sq ft', 561.5],
  ['LIME_TBL_A', 'loam', 4.5, 6.5, '13.5 lb/100 sq ft', 659.1],
  ['LIME_TBL_A', 'clay loam', 6, 6.5, '5.5 lb/100 sq ft', 268.5],
  ['LIME_TBL_B', 'loam', 5.5, 6.5, '75 lb/1000 sq ft', 366.2],
  ['LIME_TBL_B', 'sand', 6, 6.5, '20 lb/1000 sq ft', 97.6],
  ['LIME_TBL_B', 'sand', 4, 6.5, '100 lb/1000 sq ft', 488.2],
  ['LIME_TBL_B', 'clay', 4, 6.5, '230 lb/1000 sq ft', 1123],
  ['LIME_TBL_B', 'clay', 5, 6.5, '150 lb/1000 sq ft', 732.4],
  ['PRINC_HORT', 'sand', 5.5, 6.5, '700 g/m2', 700],
  ['PRINC_HORT', 'loam', 6, 6.5, '500 g/m2', 500],
  ['PRINC_HORT', 'clay', 5, 6.5, '1400 g/m2', 1400],
  ['COURSE_UK', 'clay', 6, 7.5, '1200 g/m2', 1200],
  ['RB209_FACTOR', 'clay', 5.5, 6.5, '8 t/ha for one pH (recalled)', 800],
  ['RB209_FACTOR', 'loamy sand', 5.5, 6.5, '6 t/ha for one pH (recalled)', 600],
  ['PUR_AKERS', 'sand', 6.5, 5.5, '7 lb/1000 sq ft for one pH', 34.2],
  ['PUR_AKERS', 'loam', 6.5, 5.5, '11 lb/1000 sq ft for one pH', 53.7],
  ['PUR_AKERS', 'clay', 6.5, 5.5, '17 lb/1000 sq ft for one pH', 83],
  ['ILL_S', 'sand', 6, 5, '1.8 lb/100 sq ft', 87.9],
  ['ILL_S', 'sandy loam', 7, 6, '1.2 lb/100 sq ft', 58.6],
  ['ILL_S', 'loam', 5, 4, '3.2 lb/100 sq ft', 156.2],
  ['ILL_S', 'clay loam', 5, 4, '4.1 lb/100 sq ft', 200.2],
  ['MN_ASK', 'loam', 6.5, 5.5, '2.4 lb/100 sq ft for one pH', 117.2],
  ['EXT_BLUE', 'sand', 6.5, 5.5, '1 lb/100 sq ft for one pH', 48.8],
  ['EXT_BLUE', 'clay', 6.5, 5.5, '2 lb/100 sq ft for one pH', 97.6],
  ['UT_BLUE', 'silt loam', 6.5, 5.5, '20 lb/1000 sq ft for one pH', 97.6],
  ['UT_BLUE', 'sand', 6.5, 5.5, '13.33 lb/1000 sq ft for one pH', 65.1],
  ['UT_BLUE', 'clay', 6.5, 5.5, '26.67 lb/1000 sq ft for one pH', 130.2],
  ['MSU_TERRA', 'loam', 6, 4.5, '1540 lb/acre', 172.6],
  ['MSU_TERRA', 'sand', 5, 4.5, '175 lb/acre', 19.6],
  ['MSU_TERRA', 'clay', 7, 4.5, '3830 lb/acre', 429.3],
  ['RHS_ACID', 'sand', 6.5, 5.5, '135 g/m2 for one pH', 135],
  ['RHS_ACID', 'clay', 6.5, 5.5, '270 g/m2 for one pH', 270],
] as const)('%s, %s from %d to %d: %s', (source, texture, fromPh, toPh, printed, gM2) => {
  const rows = PUBLISHED_RATES.filter(
    (row) => row.source === source && row.texture === texture && row.fromPh === fromPh,
  )
  expect(rows.map((row) => [row.toPh, row.printed])).toEqual([[toPh, printed]])
  expect(Math.abs((rows[0]?.gM2 ?? NaN) - gM2)).toBeLessThan(0.051)
})

/** Home garden blueberries of the University of Tennessee (UT_BLUE): 2.0 lb/1000 sq ft for a tenth of a pH on silt loam. */
test.each([
  ['silt loam', 14, 68.4],
  ['sand', 9.33, 45.6],
  ['clay', 18.67, 91.1],
] as const)('%s from 6.2 to 5.5 takes %d lb/1000 sq ft of sulfur', (texture, lb, gM2) => {
  const row = PUBLISHED_RATES.find((one) => one.source === 'UT_BLUE' && one.texture === texture)!
  expect(Math.abs((row.gM2 * 0.7) / G_M2_PER_LB_1000_SQ_FT - lb)).toBeLessThan(0.05)
  expect(Math.abs(row.gM2 * 0.7 - gM2)).toBeLessThan(0.3)
})

test('every class has working rates in order; the fill of raised beds has none', () => {
  for (const texture of CLASSES) {
    const rate = soilRate(texture)!
    for (const { low, typical, high } of [rate.limestone, rate.sulfur]) {
      expect(low, texture).toBeGreaterThan(0)
      expect(low, texture).toBeLessThanOrEqual(typical)
      expect(typical, texture).toBeLessThanOrEqual(high)
    }
  }
  expect(soilRate('raised-bed mix')).toBeNull()
  expect(PUBLISHED_RATES.some(({ texture }) => texture === 'raised-bed mix')).toBe(false)
})

test.each(CLASSES)('working rates of %s lie within what is published for it', (texture) => {
  for (const material of ['limestone', 'sulfur'] as const) {
    const published = perPh(material, [texture, ...AROUND[texture]])
    const { low, typical, high } = soilRate(texture)![material]
    // Working figures are rounded, by up to two and a half per cent.
    expect(low, `${material} low`).toBeGreaterThanOrEqual(Math.min(...published) * 0.975)
    expect(high, `${material} high`).toBeLessThanOrEqual(Math.max(...published) * 1.025)
    // Where publications that were read print the class itself, the typical figure is among all of its own.
    if (perPh(material, [texture], 'read ones').length < 2) continue
    const own = perPh(material, [texture])
    expect(typical, `${material} typical`).toBeGreaterThanOrEqual(Math.min(...own) * 0.975)
    expect(typical, `${material} typical`).toBeLessThanOrEqual(Math.max(...own) * 1.025)
    compared.add(`${material} ${texture}`)
  }
})

test('eight classes and more were held against their own tables', () => {
  expect(compared.size).toBeGreaterThanOrEqual(8)
})

test('the finer the soil, the more of either it takes', () => {
  const order = ['sand', 'loamy sand', 'sandy loam', 'loam', 'clay loam', 'clay'] as const
  for (const material of ['limestone', 'sulfur'] as const) {
    const typical = order.map((texture) => soilRate(texture)![material].typical)
    expect(typical).toEqual(typical.toSorted((a, b) => a - b))
  }
})

test('no sulfur rate is one of the limestone table: that misprint overdoses two- to sevenfold', () => {
  const lime = new Set(
    PUBLISHED_RATES.filter(({ material }) => material === 'limestone').map(
      ({ texture, fromPh, printed }) => `${texture} ${fromPh} ${printed}`,
    ),
  )
  const sulfur = PUBLISHED_RATES.filter(({ material }) => material === 'sulfur')
  for (const { texture, fromPh, toPh, printed } of sulfur) {
    expect(lime.has(`${texture} ${fromPh} ${printed}`)).toBe(false)
    expect(lime.has(`${texture} ${toPh} ${printed}`)).toBe(false)
  }
  for (const texture of CLASSES) {
    const rate = soilRate(texture)!
    // By formula masses sulfur does the same with less than a third; even its high end is below the lime's typical.
    expect(rate.sulfur.typical, texture).toBeLessThan(rate.limestone.typical / 2)
    expect(rate.sulfur.high, texture).toBeLessThan(rate.limestone.typical)
    const share = (rate.sulfur.typical * 3.12) / rate.limestone.typical
    expect(share, texture).toBeGreaterThan(0.5)
    expect(share, texture).toBeLessThan(1.1)
  }
})

/** Computed from the saturation of Saxton and Rawls 2006 as BD_RULE has it; g/cm3 in its tables. */
test.each([
  ['sand', 1431],
  ['sandy loam', 1458],
  ['loam', 1431],
  ['silt loam', 1378],
  ['silty clay loam', 1299],
  ['clay', 1325],
] as const)('%s weighs about %d kg in a cubic metre', (texture, kgM3) => {
  const { low, typical, high } = bulkDensityOf(texture)
  expect(Math.abs(typical - kgM3)).toBeLessThan(1)
  expect(low).toBeLessThan(typical)
  expect(high).toBeGreaterThan(typical)
})

test('fill of raised beds is light and its density is from memory', () => {
  expect(bulkDensityOf('raised-bed mix')).toMatchObject({ low: 400, high: 900, source: 'MEM' })
  expect(bulkDensityOf('raised-bed mix').typical).toBeCloseTo(Math.sqrt(400 * 900), 9)
})
