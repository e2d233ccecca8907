/**
 * Writes `hub/api/open-api/examples.json`: asks a demo hub for everything that can be read and keeps the beginnings of
 * its answers. Run it when an answer changes its shape: `node tests/support/record-examples.ts`.
 */
import { writeFileSync } from 'node:fs'
import type { Document } from '#hub/api/open-api/document.ts'
import { startHub } from './hub-process.ts'
import { tempDir } from './temp-dir.ts'
import { until } from './until.ts'

/** Rows of a list that show what it is. */
const ROWS = 1
const SHORT_ROWS = 2

const FILE = new URL('../../hub/api/open-api/examples.json', import.meta.url)

/** Answers that an invented garden in good order does not have. */
const ANSWERED: Readonly<Record<string, unknown>> = {
  '/api/damaged': [
    {
      id: 1,
      metAt: 1_778_580_000_000,
      what: 'readings',
      probe: 'wren1',
      from: 1_778_457_600_000,
      to: 1_778_544_000_000,
      readings: 96,
      now: 0,
      back: 0,
      bytes: 1184,
      why: 'a block does not hold what was written',
      settled: null,
    },
  ],
}

/** Bodies to send, of the same garden. */
const SENT: Readonly<Record<string, unknown>> = {
  'post /api/sign-in': { name: 'Ash', password: 'worms like rain' },
  'post /api/owner': { name: 'Ash', password: 'worms like rain' },
  'post /api/beds': {
    name: 'Wren Corner',
    areaM2: 2.4,
    depthM: 0.3,
    texture: 'sandy loam',
    crops: ['tomato', 'basil'],
    ownBand: null,
  },
  'put /api/beds/{id}': {
    name: 'Wren Corner',
    areaM2: 2.4,
    depthM: 0.3,
    texture: 'raised-bed mix',
    crops: ['tomato'],
    ownBand: { low: 6, high: 6.8 },
  },
  'post /api/beds/{id}/spots': { name: 'by the fence' },
  'put /api/spots/{id}': { name: 'by the gate' },
  'post /api/probes': { id: 'wren3', name: 'Wren 3' },
  'put /api/probes/{id}': { name: 'Wren 3' },
  'put /api/storage/retention': { rawMonths: 24, backup: true },
}

/** Keeps the beginning of every list; columns of one length keep one length. */
function shortened(value: unknown): unknown {
  if (Array.isArray(value)) {
    const flat = value.every((one) => typeof one !== 'object' || one === null)
    return value.slice(0, flat ? SHORT_ROWS : ROWS).map(shortened)
  }
  if (typeof value !== 'object' || value === null) return value
  return Object.fromEntries(Object.entries(value).map(([key, inner]) => [key, shortened(inner)]))
}

const dir = tempDir()
try {
  await using hub = await startHub('demo', dir.path)
  await until(
    'the demo is made',
    async () => (await hub.get<{ loading: unknown }>('/api/health')).loading === null,
    240_000,
  )
  const [beds, probes, document] = await Promise.all([
    hub.get<{ id: number }[]>('/api/beds'),
    hub.get<{ id: string; bedId: number | null }[]>('/api/probes'),
    hub.get<Document>('/api/openapi.json'),
  ])
  await until(
    'beds were looked at',
    async () => {
      const bed = await hub.get<{ ph: { status: string } }>(`/api/beds/${beds[0]!.id}`)
      return bed.ph.status === 'ok'
    },
    120_000,
  )
  const bed = String(beds[0]!.id)
  const probe = probes.find(({ bedId }) => bedId !== null)!.id
  const [newest] = await hub.get<{ id: number }[]>('/api/alarms?limit=1')
  const alarm = newest?.id ?? 1
  const now = Date.now()
  const week = `from=${now - 7 * 86_400_000}&to=${now}`
  const search: Readonly<Record<string, string>> = {
    '/api/beds/{id}/series': `?quantity=ph&${week}&points=10&spots=true`,
    '/api/probes/{id}/series': `?channel=phmv&${week}&points=10`,
    '/api/probes/{id}/settling': `?channel=phmv&since=${now - 600_000}`,
    '/api/report': `?${week}`,
    '/api/beds/{id}/report': `?${week}`,
  }
  const examples: Record<string, { sent?: unknown; answer?: unknown }> = {}
  for (const [key, sent] of Object.entries(SENT)) examples[key] = { sent }
  for (const [path, item] of Object.entries(document.paths)) {
    const operation = item['get']
    const isJson = operation?.responses['200']?.content?.['application/json']?.schema
    if (operation === undefined || isJson === undefined) continue
    if (!path.startsWith('/api/') || path === '/api/openapi.json') continue
    const url = path
      .replace('/probes/{id}', `/probes/${probe}`)
      .replace('/beds/{id}', `/beds/${bed}`)
      .replace('/trials/{id}', '/trials/1')
      .replace('/alarms/{id}', `/alarms/${alarm}`)
    const response = await fetch(`${hub.url}${url}${search[path] ?? ''}`)
    const answer = (await response.json()) as unknown
    if (!response.ok) {
      console.log(`${path}: ${response.status} ${JSON.stringify(answer)}`)
      continue
    }
    examples[`get ${path}`] = { answer: shortened(ANSWERED[path] ?? answer) }
  }
  writeFileSync(FILE, `${JSON.stringify(examples, null, 2)}\n`)
  console.log(`${Object.keys(examples).length} examples`)
} finally {
  dir[Symbol.dispose]()
}
