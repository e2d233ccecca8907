import { globSync, readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { contrast, lightOf, oklab, seenBy, SIGHTS } from '../support/colour-sight.ts'

const tokens = readFileSync('dashboard/src/look/tokens.css', 'utf8')

function coloursIn(block: string): Record<string, string> {
  return Object.fromEntries(
    Array.from(block.matchAll(/--([\w-]+): (#[0-9a-f]{3,6});/g), ([, name, value]) => [
      name!,
      value!.length === 4 ? value!.replace(/[0-9a-f]/g, '$&$&') : value!,
    ]),
  )
}

/** The `:root` block behind a piece of the style sheet. */
function rootAfter(start: string): Record<string, string> {
  const at = tokens.indexOf(start)
  expect(at, start).toBeGreaterThan(-1)
  return coloursIn(tokens.slice(at, tokens.indexOf('}', at)))
}

const light = rootAfter(':root {')
const SCHEMES = {
  light,
  dark: { ...light, ...rootAfter('@media screen and (prefers-color-scheme: dark)') },
  paper: { ...light, ...rootAfter('@media print') },
}
const PH = ['acid', 'neutral', 'alkaline'] as const

describe.each(Object.entries(SCHEMES))('%s', (scheme, colours) => {
  const of = (name: string): string => {
    const colour = colours[name]
    if (colour === undefined) throw new Error(`no --${name} in ${scheme}`)
    return colour
  }

  test('every text is read on whatever it stands on: WCAG 2.2, 1.4.3', () => {
    const poor: string[] = []
    const need = (ink: string, ground: string, least: number): void => {
      const is = contrast(of(ink), of(ground))
      if (is < least) poor.push(`${ink} on ${ground}: ${is.toFixed(2)} of ${least}`)
    }
    for (const ground of ['paper', 'desk', 'strip-soft']) {
      for (const ink of ['ink', 'ink-faint', 'link', 'error']) need(ink, ground, 4.5)
    }
    for (const ink of PH) need(ink, 'paper', 4.5)
    need('ink', 'band', 4.5)
    need('ink-faint', 'band', 4.5)
    need('strip-ink', 'strip', 4.5)
    expect(poor).toEqual([])
  })

  test('every line and edge that says something stands out: WCAG 2.2, 1.4.11', () => {
    const poor: string[] = []
    for (const [mark, grounds] of [
      ['band-edge', ['paper']],
      ['mark', ['paper', 'band']],
      ['focus', ['paper', 'desk', 'strip-soft']],
      ...PH.map((ink) => [ink, ['paper', 'band']] as const),
    ] as const) {
      for (const ground of grounds) {
        const is = contrast(of(mark), of(ground))
        if (is < 3) poor.push(`${mark} on ${ground}: ${is.toFixed(2)} of 3`)
      }
    }
    expect(poor).toEqual([])
  })

  test.each(Object.keys(SIGHTS) as (keyof typeof SIGHTS)[])(
    'the steps of the pH scale are told apart, and get darker towards alkaline: %s sight',
    (sight) => {
      const seen = PH.map((name) => oklab(seenBy(sight, lightOf(of(name)))))
      for (const [i, step] of seen.entries()) {
        const next = seen[i + 1]
        if (next === undefined) continue
        // In Oklab 0.02 is about what is just seen of two patches side by side; thin lines apart need several times it.
        expect(Math.hypot(...step.map((x, axis) => x - next[axis]!))).toBeGreaterThan(0.07)
        expect(step[0] - next[0]).toBeGreaterThan(0.02)
      }
      const [acid, , alkaline] = seen
      expect(Math.hypot(...acid!.map((x, axis) => x - alkaline![axis]!))).toBeGreaterThan(0.2)
    },
  )

  test('without any hue, as on a copier, acid and alkaline are still two greys', () => {
    const [acid, alkaline] = [of('acid'), of('alkaline')].map((c) => oklab(lightOf(c))[0])
    expect(acid! - alkaline!).toBeGreaterThan(0.1)
  })
})

test('colours stand in the tokens and nowhere else', () => {
  const found = globSync('dashboard/src/**/*.css')
    .filter((file) => !file.endsWith('look/tokens.css'))
    .filter((file) =>
      /#[0-9a-f]{3,8}\b|\b(rgb|hsl|oklch)a?\(/i.test(
        readFileSync(file, 'utf8').replaceAll(/\/\*[^]*?\*\//g, ''),
      ),
    )
  expect(found).toEqual([])
})

test('whoever wants their own colours or no motion gets it', () => {
  const all = globSync('dashboard/src/**/*.css')
    .map((file) => readFileSync(file, 'utf8'))
    .join('\n')
  expect(tokens).toContain('@media (forced-colors: active)')
  // Whatever moves by itself asks first.
  const still = all.replaceAll(/@media \(prefers-reduced-motion: no-preference\) \{[^]*?\n\}/g, '')
  expect(still).not.toMatch(/\b(animation|transition)\b\s*:|scroll-behavior: smooth/)
})
