import { expect, test } from 'vitest'
import { CROPS, cropBySlug } from '#hub/agronomy/crops.ts'
import { nutrientsAt } from '#hub/agronomy/nutrients.ts'
import { sourceById } from '#hub/agronomy/sources.ts'

const names = (ph: number) => nutrientsAt(ph).map(({ name }) => name)

test('very acid soil: bound phosphorus, poisonous aluminum and manganese below 5.5 (SCFU1986)', () => {
  expect(names(5.4)).toEqual(
    expect.arrayContaining(['phosphorus', 'magnesium', 'molybdenum', 'aluminum', 'manganese']),
  )
  expect(names(5.5)).toEqual(['nitrogen for peas, beans and clover'])
  expect(nutrientsAt(5).find(({ name }) => name === 'phosphorus')?.why).toMatch(/aluminum/)
})

test('around 6.5 nothing is the matter (CORNELL_PO39)', () => {
  for (const ph of [6, 6.5, 7]) expect(nutrientsAt(ph)).toEqual([])
})

test('alkaline soil: iron and manganese above 7 (KSU_IRON, ALGL_MN), phosphorus to calcium', () => {
  expect(names(7.2)).toEqual(['iron', 'manganese', 'zinc', 'copper', 'boron'])
  expect(nutrientsAt(7.8).find(({ name }) => name === 'phosphorus')?.why).toMatch(/calcium/)
  expect(names(7.8)).not.toContain('aluminum')
})

test('a nutrient is named once at any pH, in a clause, with a publication', () => {
  for (let ph = 3; ph <= 10; ph += 0.1) {
    const all = nutrientsAt(ph)
    expect(new Set(all.map(({ name }) => name)).size).toBe(all.length)
    for (const { why, source } of all) {
      expect(sourceById(source).seen).not.toBe('from memory')
      expect(why).toMatch(/^[a-z].*[^.]$/)
    }
  }
  expect(nutrientsAt(NaN)).toEqual([])
})

/** Bands that a widely copied list, ECOCROP or EPD give and extension services contradict. */
test.each([
  ['carrot', 5, 6],
  ['cucumber', 5, 6],
  ['garlic', 5, 6],
  ['chives', 5, 6],
  ['kale', 5.4, 6],
  ['arugula', 7, 8],
  ['pepper_hot', 7, 8.5],
  ['mint_pepper', 7, 8],
  ['rosemary', 5, 6],
])('%s is not worked by the suspect band %d to %d', (slug, low, high) => {
  const crop = cropBySlug(slug)!
  expect(crop.band).not.toEqual({ low, high })
  // Neither shown as a publication's own for the crop.
  expect(
    crop.published.some((row) => row.low === low && row.high === high && !row.group),
    slug,
  ).toBe(false)
})

test('no crop is called acid-loving by mistake', () => {
  const acid = CROPS.filter(({ band }) => band.high <= 5.5).map(({ slug }) => slug)
  expect(acid).toContain('blueberry_highbush')
  expect(acid).not.toContain('carrot')
  expect(acid).not.toContain('potato')
})
