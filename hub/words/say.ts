import { AsyncLocalStorage } from 'node:async_hooks'
import type { Language } from '../model/language.ts'
import type { Manner, Units } from '../model/manner.ts'
import { catalogueOf } from './catalogue.ts'

const spoken = new AsyncLocalStorage<Manner>()
const sources = new WeakMap<TemplateStringsArray, string>()

/** Where nobody chose another. */
export const PLAIN: Manner = { language: 'en', units: 'metric' }

/** Runs `work`, and all that it waits for, in a language and with amounts in some units. */
export function inManner<T>({ language, units }: Manner, work: () => T): T {
  return spoken.run({ language, units }, work)
}

/** The same in a language; the units stay those that are told here. */
export function inLanguage<T>(language: Language, work: () => T): T {
  return inManner({ language, units: units() }, work)
}

/** How is spoken here. @default English and metric, where nobody chose */
export const manner = (): Manner => spoken.getStore() ?? PLAIN
/** The language spoken here. */
export const language = (): Language => manner().language
/** The units that are told here. */
export const units = (): Units => manner().units

/** The name of a template in the catalogue: its text with the holes numbered, as in 'by {0} to {1}'. */
export function sourceOf(parts: readonly string[]): string {
  return parts.reduce((text, part, i) => `${text}{${i - 1}}${part}`)
}

/**
 * The text in the language spoken here, its holes filled. Written as a tag: say`pH ${now}, was ${before}`.
 * What is filled in must have been made in the same language; numbers get its decimal comma and a true minus.
 * Texts that are not in the catalogue stay English.
 */
export function say(parts: TemplateStringsArray, ...values: readonly (string | number)[]): string {
  const chosen = language()
  if (chosen !== 'en') {
    let source = sources.get(parts)
    if (source === undefined) {
      source = sourceOf(parts)
      sources.set(parts, source)
    }
    const text = catalogueOf(chosen).get(source)
    if (text !== undefined) {
      return text.replace(/\{(\d+)\}/g, (_, i: string) => filled(values[Number(i)]!))
    }
  }
  let text = parts[0]!
  for (let i = 1; i < parts.length; i++) text += String(values[i - 1]) + parts[i]!
  return text
}

function filled(value: string | number): string {
  return typeof value === 'string' ? value : String(value).replace('.', ',').replace('-', '\u2212')
}

/** Marks a text in a table for the catalogue; it is still English. `said` says it where it is used. */
export function toSay<const Text extends string>(text: Text): Text {
  return text
}

/** A marked text in the language spoken here; what is not in the catalogue stays as it is. */
export function said(text: string): string {
  const chosen = language()
  return chosen === 'en' ? text : (catalogueOf(chosen).get(text) ?? text)
}
