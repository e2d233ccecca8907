import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Language } from '../model/language.ts'

const FOLDER = join(import.meta.dirname, 'catalogue')

/** English text, holes numbered as in `{0}`, and what it is in another language. */
export type Catalogue = ReadonlyMap<string, string>

const catalogues = new Map<Language, Catalogue>()

/**
 * The texts of a language, all files of its folder together. English is the source and has none.
 *
 * @throws Error when two files differ about the same text
 */
export function catalogueOf(language: Language): Catalogue {
  const known = catalogues.get(language)
  if (known !== undefined) return known
  const texts = new Map<string, string>()
  const folder = join(FOLDER, language)
  for (const file of language === 'en' ? [] : readdirSync(folder).toSorted()) {
    const part = JSON.parse(readFileSync(join(folder, file), 'utf8')) as Record<string, string>
    for (const [source, text] of Object.entries(part)) {
      const before = texts.get(source)
      if (before !== undefined && before !== text) {
        throw new Error(`${language}/${file}: '${source}' is '${before}' in another file`)
      }
      texts.set(source, text)
    }
  }
  catalogues.set(language, texts)
  return texts
}

/** Puts other texts in the place of a language's own; the tests find by it what is said past the catalogue. */
export function withCatalogue(language: Language, texts: Catalogue): void {
  catalogues.set(language, texts)
}
