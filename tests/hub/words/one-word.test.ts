import { expect, test } from 'vitest'
import { translationsIn } from '../../support/texts.ts'

/** Words that a language has another for. Topics and addresses (`lm1/hub/alerts`, `hub.local`) are no words. */
const NOT_IN = { es: /(?<![\w/.-])hubs?(?![\w/]|\.\w)|bróker/i } as const

test.each(['hub/words/catalogue', 'dashboard/src/words'])(
  'one thing has one word in the texts of %s',
  (folder) => {
    for (const [language, other] of Object.entries(NOT_IN)) {
      const texts = [...translationsIn(`${folder}/${language}`).values()]
      expect(texts.length).toBeGreaterThan(100)
      expect(texts.filter((text) => other.test(text.replaceAll(/https?:\S+/g, '')))).toEqual([])
    }
  },
)
