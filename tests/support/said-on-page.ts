import type { Page, Response } from 'playwright-core'

/** Texts of a page that is not shown by its catalogue, as script: every one is put in marks, its holes outside of them. */
export const MARKING_CATALOGUE = String.raw`
const marked = (text) =>
  text
    .split(/(\{\d+\})/)
    .map((part) => (part === '' || /^\{\d+\}$/.test(part) ? part : '⟦' + part + '⟧'))
    .join('')
export default new Proxy({}, { get: (_, text) => (typeof text === 'string' ? marked(text) : undefined) })
`

/** All that is shown or heard: text of elements, folded ones too, and attributes that are read out. */
const COLLECT = String.raw`(() => {
  // Addresses, commands and what is said in a language of its own are nobody's to translate.
  const skipped = 'script, style, code, pre, datalist, svg title, .id, [lang]:not(html)'
  const found = [document.title]
  for (const folded of document.querySelectorAll('details')) folded.open = true
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT)
  for (let node = walker.nextNode(); node !== null; node = walker.nextNode()) {
    if (node.parentElement.closest(skipped) === null) found.push(node.data.trim())
  }
  for (const element of document.querySelectorAll('*')) {
    if (element.closest(skipped) !== null) continue
    for (const name of ['aria-label', 'aria-description', 'title', 'placeholder', 'alt', 'data-label']) {
      found.push(element.getAttribute(name) ?? '')
    }
  }
  return [...new Set(found)].filter((text) => text !== '')
})()`

const WORD = /\p{L}[\p{L}\p{M}]+/gu
/** Units and signs that are the same in every language, names of languages, and the name of the hub. */
const EVERYWHERE = (
  'pH mV min kg cm mm ft gal oz lb sq qt dBm RH meq cmol Loamline UTC CSV EUR JPEG PNG MQTT HTTP MiB CaCl CaCO ' +
  'kB MB GB TB acre ha GET POST PUT DELETE English Deutsch Español'
).split(' ')

function calendarWords(locale: string): string[] {
  const words: string[] = []
  for (const style of ['long', 'short'] as const) {
    for (const options of [
      { month: style },
      { weekday: style },
      { month: style, day: 'numeric', year: 'numeric' },
    ] as const) {
      const format = new Intl.DateTimeFormat(locale, options)
      for (let day = 0; day < 366; day += 1) {
        words.push(...(format.format(Date.UTC(2027, 0, 1 + day)).match(WORD) ?? []))
      }
    }
  }
  return words
}

/** What a page may show that is not in its catalogue. */
export interface Told {
  /** Words the API said so far. */
  readonly words: ReadonlySet<string>
  /** Waits until every answer that came was read. */
  settled(): Promise<void>
}

/**
 * Hears what the API tells a page. Names of states and kinds do not count: a page has to put them into words.
 *
 * @param codes values that the document of the API lists
 */
export function hear(page: Page, codes: ReadonlySet<string>, locale: string): Told {
  const words = new Set([...EVERYWHERE, ...calendarWords(locale)])
  const reading: Promise<void>[] = []
  const take = (value: unknown, member = ''): void => {
    if (typeof value === 'string') {
      // A channel may well be named as a code is.
      const counts = member === 'name' || !codes.has(value)
      if (counts) for (const word of value.match(WORD) ?? []) words.add(word)
    } else if (typeof value === 'object' && value !== null) {
      for (const [name, one] of Object.entries(value)) take(one, name)
    }
  }
  const read = async (response: Response): Promise<void> => {
    if (!(response.headers()['content-type'] ?? '').includes('json')) return
    // What was aborted because the page went on has no body any more.
    const text = await response.text().catch(() => 'null')
    take(JSON.parse(text) as unknown)
  }
  page.on('response', (response) => {
    const { pathname } = new URL(response.url())
    if (pathname.startsWith('/api/') && pathname !== '/api/openapi.json')
      reading.push(read(response))
  })
  return {
    words,
    settled: async () => {
      await Promise.all(reading)
    },
  }
}

/** A path of the hub, as the page of the interfaces lists them. */
const ADDRESS = /^\/[\w./{}-]+$/

/** Every text of the page with words in it that neither the catalogue nor the API said. */
export async function unsaid(page: Page, told: Told): Promise<string[]> {
  const texts = await page.evaluate<string[]>(COLLECT)
  await told.settled()
  return texts.filter(
    (text) =>
      !ADDRESS.test(text) &&
      (text.replace(/⟦[^⟧]*⟧/g, ' ').match(WORD) ?? []).some((word) => !told.words.has(word)),
  )
}

/** Values of lists in the document of the API: states, kinds, methods. */
export function codesOf(document: unknown): Set<string> {
  const codes = new Set<string>()
  const look = (value: unknown): void => {
    if (typeof value !== 'object' || value === null) return
    for (const [name, member] of Object.entries(value)) {
      if (name === 'enum' && Array.isArray(member)) {
        for (const one of member) if (typeof one === 'string') codes.add(one)
      } else if (name === 'const' && typeof member === 'string') codes.add(member)
      else look(member)
    }
  }
  look(document)
  return codes
}
