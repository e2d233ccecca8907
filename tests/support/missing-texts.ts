import { matchesGlob } from 'node:path'
import { tableTexts } from './table-texts.ts'
import { translationsIn, textsOf } from './texts.ts'

/**
 * Prints what the catalogue lacks as JSON to be filled in: node tests/support/missing-texts.ts de 'hub/analysis/**\/*.ts'
 */
const [language, ...globs] = process.argv.slice(2)
if (language === undefined || globs.length === 0) {
  throw new Error('expected a language and the files to look through')
}
const known = new Map([
  ...translationsIn(`hub/words/catalogue/${language}`),
  ...translationsIn(`dashboard/src/words/${language}`),
])
const missing = [
  ...textsOf(...globs),
  ...tableTexts().filter(({ file }) => globs.some((glob) => matchesGlob(file, glob))),
].flatMap(({ source }) => (known.has(source) ? [] : [source]))
console.log(JSON.stringify(Object.fromEntries(missing.map((source) => [source, ''])), null, 2))
