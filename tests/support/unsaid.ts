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

/** What the answer of the API tells without its catalogue: each where and what. */
export function unsaid(answer: unknown, names: readonly string[]): string[] {
  const found: string[] = []
  const known = [...names, ...SOURCES.map(({ publisher }) => publisher)].toSorted(
    (a, b) => b.length - a.length,
  )
  const visit = (value: unknown, path: string, told: boolean): void => {
    if (typeof value === 'string') {
      if (!told) return
      // What came is shown as it came, and codes are shown in quotes.
      let rest = value.replaceAll(/\u27e6[^\u27e7]*\u27e7|"[^"]*"/g, ' ')
      for (const name of known) rest = rest.replaceAll(name, ' ')
      if (/\p{L}{2}/u.test(rest.replaceAll(EVERYWHERE, ' '))) found.push(`${path}: ${value}`)
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
