import { describe, expect, test } from 'vitest'
import { LANGUAGES } from '#hub/model/language.ts'
import { tableTexts } from '../../support/table-texts.ts'
import { holesOf, textsOf, translationsIn } from '../../support/texts.ts'

const PROGRAMS = [
  {
    name: 'hub',
    globs: ['hub/**/*.ts'],
    // What a page offers comes back in sentences of the hub.
    tables: [...tableTexts(), ...textsOf('dashboard/src/materials.ts')],
    folder: 'hub/words/catalogue',
  },
  {
    name: 'dashboard',
    globs: ['dashboard/src/**/*.{ts,tsx}'],
    tables: [],
    folder: 'dashboard/src/words',
  },
]

describe.each(PROGRAMS)('texts of the $name', ({ globs, tables, folder }) => {
  const texts = [...textsOf(...globs), ...tables]
  const sources = new Set(texts.map(({ source }) => source))

  test('are found', () => expect(sources.size).toBeGreaterThan(0))

  test.each(LANGUAGES.filter((language) => language !== 'en'))(
    'are all there in %s',
    (language) => {
      const known = translationsIn(`${folder}/${language}`)
      expect(
        texts.flatMap(({ file, source }) => (known.has(source) ? [] : [`${file}: ${source}`])),
        'not in the catalogue',
      ).toEqual([])
      expect(
        [...known.keys()].filter((source) => !sources.has(source)),
        'nobody says it',
      ).toEqual([])
      expect(
        [...known].filter(
          ([source, text]) => text.trim() === '' || holesOf(source) !== holesOf(text),
        ),
        'empty, or other holes than the English',
      ).toEqual([])
    },
  )
})
