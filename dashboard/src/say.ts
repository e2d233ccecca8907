import type { Language } from '../../hub/model/language.ts'

type Texts = Readonly<Record<string, string>>

const LOADERS: Readonly<Record<Exclude<Language, 'en'>, () => Promise<{ default: Texts }>>> = {
  de: () => import('./words/de.ts'),
  es: () => import('./words/es.ts'),
}

const LANGUAGES = ['en', 'de', 'es'] as const satisfies readonly Language[]
const KEPT = 'loamline.language'

let spoken: Language = 'en'
let texts: Texts = {}
const sources = new WeakMap<TemplateStringsArray, string>()

/** The language the pages speak now. */
export const language = (): Language => spoken

/**
 * Fetches the texts of a language and speaks it from then on; what is on the page has to be drawn again. The
 * language is kept on the device, so that the page begins in it the next time.
 *
 * @throws TypeError when the texts cannot be fetched; the language stays what it was
 */
export async function speak(wanted: Language): Promise<void> {
  const fetched = wanted === 'en' ? {} : (await LOADERS[wanted]()).default
  spoken = wanted
  texts = fetched
  document.documentElement.lang = wanted
  try {
    localStorage.setItem(KEPT, wanted)
  } catch {
    // Without storage the page begins in English, and changes once the garden is known.
  }
}

/** The language this device spoke last; null when none is kept. */
export function spokenLast(): Language | null {
  try {
    const kept = localStorage.getItem(KEPT)
    return LANGUAGES.find((one) => one === kept) ?? null
  } catch {
    return null
  }
}

/**
 * The text in the language of the pages, its holes filled; written as a tag: say`Bed ${name}`. The catalogue names
 * a text by its English with numbered holes, as in 'Bed {0}'. A text that is not there stays English.
 */
export function say(parts: TemplateStringsArray, ...values: readonly (string | number)[]): string {
  if (spoken !== 'en') {
    let source = sources.get(parts)
    if (source === undefined) {
      source = parts.reduce((text, part, i) => `${text}{${i - 1}}${part}`)
      sources.set(parts, source)
    }
    const text = texts[source]
    if (text !== undefined) {
      return text.replace(/\{(\d+)\}/g, (_, i: string) => String(values[Number(i)]))
    }
  }
  return parts.reduce((text, part, i) => text + String(values[i - 1]) + part)
}

/** Marks a text in a table for the catalogue; it is still English. `said` says it where it is used. */
export const toSay = <const Text extends string>(text: Text): Text => text

/** A marked text in the language of the pages. */
export const said = (text: string): string => (spoken === 'en' ? text : (texts[text] ?? text))

/** A word that begins with a capital when it stands alone, as it stands within a sentence; German keeps its nouns. */
export const midSentence = (word: string): string => (spoken === 'de' ? word : word.toLowerCase())

/** Choices of a table, their marked words in the language of the pages. */
export const saidOptions = <Option extends { readonly words: string }>(
  options: readonly Option[],
): Option[] => options.map((option) => ({ ...option, words: said(option.words) }))
