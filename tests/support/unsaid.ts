import { SOURCES } from '#hub/agronomy/sources.ts'
import type { Catalogue } from '#hub/words/catalogue.ts'

const [OPEN, CLOSE] = ['\u27e6', '\u27e7']

/** A language in which every text of the catalogue stands in marks, its holes outside of them. */
export const MARKING: Catalogue = {
  get: (text: string) =>
    text
      .split(/(\{\d+\})/)
      .map((part) => (part === '' || /^\{\d+\}$/.test(part) ? part : OPEN + part + CLOSE))
      .join(''),
} as unknown as Catalogue

/** Members that hold words for a person. */
const TOLD = new Set(
  (
    'sentence advice words reason detail title have need grounds steps summary nextSentence reminder meaning ' +
    'expected causes caution cautions leftOut basis bandSentence bufferingMissing fieldCapacityFrom scales message ' +
    'lines label heldAgainst name'
  ).split(' '),
)
/** Codes, names that people gave, and publications, which keep their own language. */
const NOT_TOLD = new Set(
  'source sources material method spot probe bed kind unit verdict state channels perWhole effect settle path url'.split(
    ' ',
  ),
)
/** Units, signs and names that are the same in every language, and months as dates have them. */
const EVERYWHERE =
  /\b(pH|mm|cm|cm³|kg|g|mL|mV|EUR|FAO|CaCl2|CaCO3|Kendall|L|s|m2|m3|CSV|Januar|Februar|März|April|Mai|Juni|Juli|August|September|Oktober|November|Dezember|und)\b/g

/** Every text of an answer of the API that is for a person, and where it stands. */
export function toldIn(answer: unknown): { readonly path: string; readonly text: string }[] {
  const found: { path: string; text: string }[] = []
  const visit = (value: unknown, path: string, told: boolean): void => {
    if (typeof value === 'string') {
      if (told) found.push({ path, text: value })
    } else if (Array.isArray(value)) {
      value.forEach((item, i) => visit(item, `${path}.${i}`, told))
    } else if (typeof value === 'object' && value !== null) {
      for (const [name, member] of Object.entries(value)) {
        if (!NOT_TOLD.has(name)) visit(member, `${path}.${name}`, told || TOLD.has(name))
      }
    }
  }
  visit(answer, '', false)
  return found
}

/** What the answer of the API tells without its catalogue: each where and what. */
export function unsaid(answer: unknown, names: readonly string[]): string[] {
  const known = [...names, ...SOURCES.map(({ publisher }) => publisher)].toSorted(
    (a, b) => b.length - a.length,
  )
  return toldIn(answer).flatMap(({ path, text }) => {
    // What came is shown as it came, and codes are shown in quotes.
    let rest = text.replaceAll(/\u27e6[^\u27e7]*\u27e7|"[^"]*"/g, ' ')
    for (const name of known) rest = rest.replaceAll(name, ' ')
    return /\p{L}{2}/u.test(rest.replaceAll(EVERYWHERE, ' ')) ? [`${path}: ${text}`] : []
  })
}

/** A figure with a metric unit, or one in words. */
const METRIC =
  /\d\s?(mm|cm|m|m²|m2|g|kg|L|mL|°C|g\/m²|kg\/m3)(?![\p{L}\p{N}/³])|\b(square|cubic) met(re|er)s?\b|\b(centi|milli)met(re|er)s?\b|\blit(re|er)s?\b|\b(kilo)?grams?\b|Quadratmeter|Kubikmeter|Zentimeter|Liter\b|metros? c[uú]|centímetro|\blitros?\b/u

/** Metric and US beside each other, and the unit that laboratories have everywhere. */
const FOR_ALL =
  /[\d ]+( (bis|to|a) \d+)? (cm|°C|g|mL) \((an inch|[\d., ]+(°F|in|oz|fl oz|Zoll|pulgadas?))\)|meq (in|en) 100 g/g

/** What the answer tells in metric units alone. */
export function metricIn(answer: unknown): string[] {
  return toldIn(answer).flatMap(({ path, text }) =>
    METRIC.test(text.replaceAll(FOR_ALL, '')) ? [`${path}: ${text}`] : [],
  )
}
