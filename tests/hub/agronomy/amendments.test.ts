import { expect, test } from 'vitest'
import { AMENDMENTS, amendmentBySlug, amendmentOf, expectedOf } from '#hub/agronomy/amendments.ts'
import { sourceById } from '#hub/agronomy/sources.ts'
import { LANGUAGES } from '#hub/model/language.ts'
import { inLanguage } from '#hub/words/say.ts'

test.each([
  ['ground limestone', 'ground-limestone'],
  ['Garden lime, fine', 'ground-limestone'],
  ['Dolomitic limestone', 'dolomitic-limestone'],
  ['hydrated lime', 'hydrated-lime'],
  ["builder's lime", 'hydrated-lime'],
  ['elemental sulfur', 'sulfur'],
  ['Flowers of Sulphur', 'sulfur'],
  ['ferrous sulphate', 'iron-sulfate'],
  ['aluminium sulphate', 'aluminum-sulfate'],
  ['sulfate of ammonia', 'ammonium-sulfate'],
  ['WOOD ASH', 'wood-ash'],
  ['sphagnum peat', 'peat'],
  ['compost', 'compost'],
  ['leaf-mould', 'compost'],
  ['gypsum', 'gypsum'],
  ['coffee grounds', 'coffee-grounds'],
  ['pine needles', 'pine-needles'],
  ['grit', 'grit'],
  ['lime-free grit', 'grit'],
  ['limestone grit', 'ground-limestone'],
  ['compost with sulfur', 'sulfur'],
  ['compost and garden lime', 'ground-limestone'],
  ['Gartenkalk', 'ground-limestone'],
  ['Löschkalk', 'hydrated-lime'],
  ['Kompost mit Schwefel', 'sulfur'],
  ['cal dolomítica', 'dolomitic-limestone'],
  ['posos de café', 'coffee-grounds'],
])('%s is %s', (said, slug) => {
  expect(amendmentOf(said)?.slug).toBe(slug)
})

test.each([
  'sublime feed',
  'limeade',
  'potassium sulfate',
  'bone meal',
  '',
  '  ',
  'lime, then sulfur',
  'washed',
])('nothing is made up for "%s"', (said) => {
  expect(amendmentOf(said)).toBeNull()
})

test('every row names publications that exist, spans that make sense and words of its own', () => {
  const taken = new Set<string>()
  for (const row of AMENDMENTS) {
    expect(row.sources.length).toBeGreaterThan(0)
    for (const id of row.sources) expect(sourceById(id).publisher).not.toBe('')
    for (const span of [row.peak, row.holds]) {
      if (span === null) continue
      expect(sourceById(span.source).seen).not.toBe('from memory')
      expect(span.low).toBeGreaterThan(0)
      expect(span.high).toBeGreaterThanOrEqual(span.low)
    }
    for (const alias of row.aliases) {
      expect(taken.has(alias), alias).toBe(false)
      taken.add(alias)
      expect(amendmentOf(alias)?.slug, alias).toBe(row.slug)
    }
  }
  expect(new Set(AMENDMENTS.map(({ slug }) => slug)).size).toBe(AMENDMENTS.length)
})

test('a row is found by its slug, and by nothing else', () => {
  for (const row of AMENDMENTS) expect(amendmentBySlug(row.slug)).toBe(row)
  expect(() => amendmentBySlug('garden lime')).toThrow('in the table of amendments')
})

test('what moves pH and can hurt carries a caution and leaves amounts to the label', () => {
  for (const row of AMENDMENTS) {
    const said = expectedOf(row)
    expect(said).not.toMatch(/\d\s*(g|kg|lb|oz|t)\b/)
    if (row.direction === 'raises') expect(said).toMatch(/label/)
  }
  const lime = amendmentOf('lime')
  expect(lime === null ? '' : expectedOf(lime)).toMatch(/86 to 136 days/)
})

test('days to the peak are those of field plots in Iowa (Pagani and Mallarino 2012, abstract)', () => {
  expect(amendmentOf('lime')?.peak).toEqual({ low: 86, high: 136, source: 'PAGANI2012' })
  expect(amendmentOf('dolomite')?.peak?.high).toBe(129)
})

test.each(LANGUAGES)('a material is known by the name it has in %s', (language) => {
  for (const row of AMENDMENTS) {
    const name = inLanguage(language, () => row.name)
    expect(amendmentOf(name)?.slug, name).toBe(row.slug)
    expect(amendmentOf(row.word)?.slug).toBe(row.slug)
  }
})
