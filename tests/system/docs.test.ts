import { execFileSync } from 'node:child_process'
import { existsSync, globSync, readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { SETTINGS } from '#hub/config/settings.ts'

const DOCS = ['README.md', 'DEVELOPERS.md', 'firmware-spec/README.md', 'dashboard/README.md']
const scripts = (
  JSON.parse(readFileSync('package.json', 'utf8')) as { scripts: Record<string, string> }
).scripts
/** Made by running the project, not by cloning it. */
const MADE = /^(node_modules|dashboard\/dist|loamline-data|\/tmp)/

describe.each(DOCS)('%s', (doc) => {
  const text = readFileSync(doc, 'utf8')
  const code = Array.from(text.matchAll(/`([^`\n]+)`/g), ([, c]) => c ?? '')
  const folder = doc.includes('/') ? doc.slice(0, doc.lastIndexOf('/') + 1) : ''

  test('every path it names exists', () => {
    const paths = code
      .filter((c) => /^(hub|dashboard|firmware-spec|tests|\.ci)(\/[\w.{}*,-]+)*\/?$/.test(c))
      .filter((c) => !MADE.test(c))
    const links = Array.from(
      text.matchAll(/\]\((?!https?:|#|mailto:)([^)#]+)/g),
      ([, l]) => folder + (l ?? ''),
    )
    const missing = [...paths, ...links].filter((p) => !existsSync(p) && globSync(p).length === 0)
    expect(missing).toEqual([])
  })

  test('every npm script it names exists', () => {
    const named = Array.from(text.matchAll(/npm run (?:--silent )?([\w:-]+)/g), ([, s]) => s ?? '')
    expect(named.filter((s) => !(s in scripts))).toEqual([])
  })
})

describe('README.md', () => {
  const readme = readFileSync('README.md', 'utf8')

  test('opens with one paragraph that states the job', () => {
    const [title, paragraph] = readme.split(/\n\n+/)
    expect(title).toBe('# Loamline')
    expect(paragraph).toMatch(/raised beds?/)
    expect(paragraph!.length).toBeGreaterThan(200)
    expect(paragraph).not.toMatch(/^[#>|-]/)
  })

  test('its table of settings is the table in the code', () => {
    const rows = Array.from(
      readme.matchAll(/^\| `(LOAMLINE_[A-Z_]+)` \| `(\w+)` \| ([^|]+) \| ([^|]+) \| ([^|]+) \|$/gm),
      ([, env, key, unit, fallback, sentence]) => ({
        env,
        key,
        unit: unit?.trim(),
        default: fallback?.trim(),
        sentence: sentence?.trim(),
      }),
    )
    expect(rows).toEqual(SETTINGS.map((s) => ({ ...s })))
  })

  test('the commands it shows exist', () => {
    const help = execFileSync('node', ['hub/cli/loamline.mjs', '--help'], { encoding: 'utf8' })
    const named = Array.from(readme.matchAll(/npm run loamline -- ([\w-]+)/g), ([, c]) => c ?? '')
    expect(named.length).toBeGreaterThan(0)
    for (const command of named) expect(help).toContain(`  ${command} `)
  })
})

test('nothing at the top level but what belongs there', () => {
  const tracked = execFileSync('git', ['ls-files'], { encoding: 'utf8' })
    .split('\n')
    .filter(Boolean)
  const top = new Set(tracked.map((p) => p.split('/')[0]))
  const allowed =
    /^(hub|dashboard|firmware-spec|tests|docker-compose\.yml|package\.json|package-lock\.json|tsconfig\.json|README\.md|DEVELOPERS\.md|LICENSE|\..*)$/
  expect([...top].filter((name) => !allowed.test(name!))).toEqual([])
})
