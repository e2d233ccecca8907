import { globSync, readFileSync } from 'node:fs'
import { dirname, join, normalize } from 'node:path'
import { expect, test } from 'vitest'

/** For each folder of hub/: the folders, packages and 'node:' it may import. The pure ones name no I/O. */
const MAY_IMPORT: Record<string, readonly string[]> = {
  model: [],
  words: ['model', 'node:'],
  agronomy: ['model', 'words'],
  wire: ['model', 'zod'],
  analysis: ['model', 'words', 'agronomy'],
  alerts: ['model', 'words', 'agronomy', 'analysis'],
  planning: ['model', 'words', 'agronomy', 'analysis'],
  simulator: ['model', 'wire', 'agronomy'],
  config: ['model', 'errors', 'zod', 'node:'],
  certificates: ['model', 'errors', 'node:'],
  store: ['model', 'words', 'errors', 'node:'],
  accounts: ['model', 'store', 'node:'],
  jobs: ['model', 'analysis', 'alerts', 'store', 'errors'],
  sensorthings: ['model', 'analysis', 'store'],
  delivery: ['model', 'words', 'alerts', 'store', 'errors', 'nodemailer', 'web-push', 'node:'],
  'delivery/plan': ['model', 'delivery'],
  ingest: ['model', 'words', 'wire', 'store', 'errors', 'mqtt', 'mqtt-packet', 'aedes', 'node:'],
  demo: [
    'model',
    'words',
    'wire',
    'agronomy',
    'simulator',
    'store',
    'ingest',
    'errors',
    'mqtt',
    'node:',
  ],
  api: [
    'model',
    'words',
    'accounts',
    'analysis',
    'agronomy',
    'alerts',
    'delivery',
    'planning',
    'store',
    'transfer',
    'errors',
    'csv-stringify/sync',
    'ical-generator',
    'fastify',
    '@fastify/rate-limit',
    '@fastify/static',
    '@fastify/swagger',
    'fastify-type-provider-zod',
    'feed',
    'prom-client',
    'jobs',
    'sensorthings',
    'zod',
    'node:',
  ],
  conformance: ['model', 'wire', 'errors', 'mqtt-packet', 'node:'],
  'conformance/judge': ['model', 'wire', 'conformance'],
  relay: ['model', 'wire', 'ingest', 'store', 'errors', 'node:'],
  transfer: ['model', 'words', 'wire', 'store', 'csv-parse', 'csv-stringify/sync', 'node:'],
  evaluation: ['model', 'words', 'analysis', 'alerts', 'store', 'errors'],
}

/** Only these choose a database; everyone else knows the ports. */
const NAMES_AN_ADAPTER = /^hub\/(hub\.ts|assembly\/|cli\/|store\/)/
const ADAPTER = /^hub\/store\/(sqlite\/|influx\/|open\.ts)/

/** Every import of a file, as a path from the repository root, or as written when it is a package. */
function imports(file: string): string[] {
  const text = readFileSync(file, 'utf8')
  const statements = text.matchAll(/\bfrom\s+'([^'\n]+)'|(?<![/'])\bimport\s*\(?\s*'([^'\n]+)'/g)
  return Array.from(statements, ([, from, dynamic]) => {
    const specifier = from ?? dynamic ?? ''
    return specifier.startsWith('.') ? normalize(join(dirname(file), specifier)) : specifier
  })
}

/** The folder of hub/ (or the file directly in it) that an import leads to, or the package's name. */
function subject(specifier: string): string {
  if (specifier.startsWith('node:')) return 'node:'
  if (!specifier.startsWith('hub/')) return specifier
  const part = specifier.split('/')[1] ?? ''
  return part === 'errors.ts' ? 'errors' : part
}

for (const [room, allowed] of Object.entries(MAY_IMPORT)) {
  test(`hub/${room} imports only ${allowed.join(', ') || 'itself'}`, () => {
    const files = room.endsWith('.ts') ? globSync(`hub/${room}`) : globSync(`hub/${room}/**/*.ts`)
    expect(files, 'no file found: the folder moved and nothing was checked').not.toHaveLength(0)
    const strays = files.flatMap((file) =>
      imports(file)
        .filter((to) => subject(to) !== room && !allowed.includes(subject(to)))
        .map((to) => `${file} -> ${to}`),
    )
    expect(strays).toEqual([])
  })
}

test('nobody but hub.ts, its assembly and cli knows the assembly', () => {
  const strays = globSync('hub/**/*.ts')
    .filter((file) => !/^hub\/(hub\.ts|assembly\/|cli\/)/.test(file))
    .flatMap((file) =>
      imports(file)
        .filter((to) => to === 'hub/hub.ts' || to.startsWith('hub/assembly/'))
        .map((to) => `${file} -> ${to}`),
    )
  expect(strays).toEqual([])
})

test('every folder of hub/ has a row in the import table', () => {
  const rooms = globSync('hub/*/', { exclude: (path) => path.startsWith('.') })
    .map((path) => path.split('/')[1] ?? '')
    .filter((room) => room !== 'cli' && room !== 'assembly')
  expect(rooms.filter((room) => !(room in MAY_IMPORT))).toEqual([])
})

test('only hub.ts, its assembly, cli and the store name a database', () => {
  const strays = globSync('hub/**/*.ts')
    .filter((file) => !NAMES_AN_ADAPTER.test(file))
    .flatMap((file) =>
      imports(file)
        .filter((to) => ADAPTER.test(to))
        .map((to) => `${file} -> ${to}`),
    )
  expect(strays).toEqual([])
})

test('the dashboard takes nothing but types from the hub', () => {
  const files = globSync('dashboard/src/**/*.{ts,tsx}')
  expect(files).not.toHaveLength(0)
  const strays = files.flatMap((file) =>
    Array.from(
      readFileSync(file, 'utf8').matchAll(
        /^(import|export) (?!type )[^\n]*from\s+'([^']*hub\/[^']*)'/gm,
      ),
      ([line]) => `${file}: ${line}`,
    ),
  )
  expect(strays).toEqual([])
})
