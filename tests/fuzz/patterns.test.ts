import { globSync, readFileSync } from 'node:fs'
import { expect, test } from 'vitest'

/*
 * Every pattern in the code against texts made to keep it busy: runs of one character or of two, with something behind
 * them that does not fit. The time it takes must grow no faster than about the length of the text.
 */

/** A pattern as it stands in code: behind an operator, a bracket or `return`, up to its slash and flags. */
const LITERAL =
  /(?<=(?:^|[=(,:[!&|?{};+]|=>|\breturn)\s*)\/(?![*/])((?:[^/\\\n[]|\\.|\[(?:[^\]\\\n]|\\.)*\])+)\/([dgimsuvy]*)/gm
const PUMPS = [
  ...[
    'a',
    'A',
    '0',
    '9',
    ' ',
    '\t',
    '\n',
    '-',
    '.',
    ',',
    ':',
    '/',
    '\\',
    '"',
    "'",
    '=',
    '_',
    '<',
    '(',
    '[',
    '%',
    'é',
  ],
  ...[
    'ab',
    'a0',
    '0a',
    '0.',
    '.0',
    '- ',
    'a ',
    ' a',
    'a,',
    'a.',
    '\\"',
    '""',
    '1-',
    '0:',
    'a/',
    '/a',
    '//',
    '://',
    '%2',
    '=a',
  ],
]
const STARTS = ['', 'a', '2026-05-01']
const ENDS = ['', '!', '\u0000']
/** From where on a time says something, ms. */
const NOTABLE_MS = 40
/** Patterns that look at what is short anyway. */
const SHORT: Readonly<Record<string, string>> = {
  '^-+|-+$': 'the name of a file, made out of the title of a chart',
  '\\/+$': 'an address out of the settings',
  '=+$': 'a hash of ours',
}
const STEPS = [16, 20, 24, 27, 200, 2000, 8000, 32_000]

interface Pattern {
  readonly file: string
  readonly source: string
  readonly flags: string
}

function patternsIn(file: string): Pattern[] {
  // Comments hold no patterns, and slashes of their own.
  const text = readFileSync(file, 'utf8').replaceAll(/^\s*(?:\/\/|\*|\/\*).*$/gm, '')
  const found = Array.from(text.matchAll(LITERAL), ([, source = '', flags = '']) => ({
    file,
    source,
    flags,
  }))
  // Slashes of a path in a template look alike.
  return found.filter(({ source, flags }) => !source.includes('${') && isPattern(source, flags))
}

function isPattern(source: string, flags: string): boolean {
  try {
    return new RegExp(source, flags).source !== ''
  } catch {
    return false
  }
}

/** How long the pattern takes on a text, ms: the best of a few. */
function timeOf(pattern: RegExp, text: string, tries = 2): number {
  let best = Infinity
  for (let i = 0; i < tries; i++) {
    pattern.lastIndex = 0
    const began = performance.now()
    pattern.test(text)
    best = Math.min(best, performance.now() - began)
    if (best < 1) break
  }
  return best
}

/** The text by which a pattern is kept busy out of proportion; null for none. */
function busyText({ source, flags }: Pattern): string | null {
  const pattern = new RegExp(source, flags)
  for (const pump of PUMPS) {
    for (const start of STARTS) {
      for (const end of ENDS) {
        let [before, length] = [0, 0]
        for (const step of STEPS) {
          const text = start + pump.repeat(Math.ceil(step / pump.length)) + end
          const took = timeOf(pattern, text)
          // Twice the length may take four times as long where a text is short anyway; not ten times.
          const fair = length === 0 ? Infinity : Math.max(before, 1) * (text.length / length) * 2.5
          // Looked at once more: the machine may have been busy with something else.
          if (took > NOTABLE_MS && took > fair && timeOf(pattern, text, 5) > fair) {
            return `${JSON.stringify(start)} + ${JSON.stringify(pump)} x ${step} + ${JSON.stringify(end)}: ${took.toFixed(0)} ms after ${before.toFixed(0)} ms`
          }
          if (took > NOTABLE_MS * 10) break
          ;[before, length] = [took, text.length]
        }
      }
    }
  }
  return null
}

const files = globSync(['hub/**/*.ts', 'dashboard/src/**/*.{ts,tsx}'])
const all = files.flatMap(patternsIn)

test('the search for patterns finds them', () => {
  expect(all.length).toBeGreaterThan(120)
  const sources = all.map(({ source }) => source)
  expect(sources).toContain('^[a-z][a-z0-9]{2,22}$')
})

test('this test notices a pattern that can be kept busy', () => {
  for (const source of ['^(a+)+$', '\\s+$']) {
    expect(busyText({ file: '', source, flags: '' }), source).not.toBeNull()
  }
})

test('no pattern of ours can be kept busy by a text', () => {
  const unique = [...new Map(all.map((one) => [`/${one.source}/${one.flags}`, one])).entries()]
  const busy = unique.flatMap(([key, one]) => {
    if (SHORT[one.source] !== undefined) return []
    const found = busyText(one)
    return found === null ? [] : [`${one.file} ${key}\n  ${found}`]
  })
  expect(busy).toEqual([])
}, 60_000)
