import { once } from 'node:events'
import { readFileSync } from 'node:fs'
import { createServer, type ServerResponse } from 'node:http'
import { extname, join } from 'node:path'
import { gzipSync } from 'node:zlib'
import type { BedSeries, BedView } from '#hub/api/schemas/bed.ts'
import type { Entry } from '#hub/api/schemas/journal.ts'
import { inventedFindings, inventedQuality } from './findings-fixture.ts'

const DAY = 86_400_000
const TYPES: Readonly<Record<string, string>> = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.svg': 'image/svg+xml',
  '.png': 'image/png',
  '.webmanifest': 'application/manifest+json',
}

export interface PretendHub extends AsyncDisposable {
  readonly url: string
}

export interface PretendHubOptions {
  readonly beds: number
  /** Spots of each bed. @default 3 */
  readonly spots?: number
  /** Rows of a series, whatever was asked for. @default as many as asked for */
  readonly rows?: number
  /** Changes a file of the pages before it goes out. */
  readonly change?: (file: string, content: string) => string
}

const wave = (at: number, shift: number): number =>
  0.3 * Math.sin((at / (60 * DAY)) * 2 * Math.PI + shift) + 0.08 * Math.sin(at / 3.1e7 + 5 * shift)

function bedOf(id: number, spots: number, now: number): BedView {
  const names = Array.from({ length: spots }, (_, s) => `spot ${s + 1}`)
  const present = (value: number, halfWidth: number): BedView['ph'] => ({
    status: 'ok',
    value,
    halfWidth,
    at: now,
    used: names,
    leftOut: [],
  })
  return {
    id,
    name: `Bed ${id}`,
    areaM2: 4,
    depthM: 0.3,
    texture: 'loam',
    crops: [{ slug: 'tomato', name: 'Tomato' }],
    ownBand: null,
    rank: id,
    retiredAt: null,
    assessedAt: now,
    ph: present(6.4 + wave(now, id), 0.2),
    moisture: present(0.5, 0.05),
    temperature: present(16, 1),
    band: { status: 'crops', band: { low: 6, high: 6.8 }, sentence: 'Tomato.' },
    standing: 'in band',
    sentence: `pH ${(6.4 + wave(now, id)).toFixed(1)} ± 0.2, inside its band of 6.0 to 6.8. Nothing to do.`,
    spots: names.map((spot, s) => ({
      spotId: 10 * id + s,
      spot,
      probe: `p${id}s${s}`,
      ph: 6.4,
      newestPh: 6.4,
      moisture: 0.5,
      temperatureC: 16,
      at: now,
      leftOut: null,
    })),
    notices: [],
    alarms: [],
  }
}

function seriesOf(bed: BedView, asked: URLSearchParams, rows: number | null): BedSeries {
  const [from, to] = [Number(asked.get('from')), Number(asked.get('to'))]
  const count = rows ?? Number(asked.get('points') ?? 600)
  const step = (to - from) / count
  const time = Array.from({ length: count }, (_, i) => Math.round(from + i * step))
  const ph = asked.get('quantity') === 'ph'
  const [middle, half] = ph ? [6.4, 0.2] : [0.5, 0.05]
  const scale = ph ? 1 : 0.3
  const at = (shift: number): number[] => time.map((t) => middle + scale * wave(t, bed.id + shift))
  const value = at(0)
  return {
    bedId: bed.id,
    quantity: (asked.get('quantity') ?? 'ph') as BedSeries['quantity'],
    unit: '1',
    from,
    to,
    stepMs: step,
    time,
    value,
    low: value.map((x) => x - half),
    high: value.map((x) => x + half),
    min: value.map((x) => x - 1.5 * half),
    max: value.map((x) => x + 1.5 * half),
    spots:
      asked.get('spots') === 'true'
        ? bed.spots.map(({ spotId, spot, probe }, s) => ({
            spotId,
            spot,
            probe: probe ?? '',
            value: at(s + 1),
            leftOut: time.map((_, i) => s === 1 && i % 50 < 5),
          }))
        : [],
  }
}

const journalOf = (bed: BedView, now: number): Entry[] =>
  Array.from({ length: 20 }, (_, i) => ({
    id: 100 * bed.id + i,
    bedId: bed.id,
    at: now - (20 - i) * 10 * DAY,
    kind: i % 4 === 0 ? 'treatment' : 'irrigation',
    material: i % 4 === 0 ? 'ground limestone' : null,
    amountG: i % 4 === 0 ? 400 : null,
    waterL: i % 4 === 0 ? null : 12,
    probe: null,
    ph: null,
    method: null,
    text: '',
  }))

/** The built pages with an API that answers for an invented garden of any size, for measuring the pages alone. */
export async function pretendHub(options: PretendHubOptions): Promise<PretendHub> {
  const dist = new URL('../../dashboard/dist/', import.meta.url).pathname
  const now = Date.now()
  const beds = Array.from({ length: options.beds }, (_, i) => bedOf(i + 1, options.spots ?? 3, now))
  const streams = new Set<ServerResponse>()

  function answer(path: string, asked: URLSearchParams): unknown {
    const [, id, what] = /^\/api\/beds\/(\d+)(?:\/([a-z]+))?$/.exec(path) ?? []
    const bed = beds.find((one) => one.id === Number(id))
    if (bed !== undefined) {
      switch (what) {
        case undefined:
          return bed
        case 'series':
          return seriesOf(bed, asked, options.rows ?? null)
        case 'journal':
          return journalOf(bed, now)
        case 'findings':
          return inventedFindings(bed.id, now)
        case 'quality':
          return inventedQuality(bed.id, now)
        default:
          return []
      }
    }
    switch (path) {
      case '/api/garden':
        return { name: 'Wren Garden', zone: 'Europe/Lisbon', units: 'metric', language: 'en' }
      case '/api/beds':
        return beds
      case '/api/probes':
        return [{ ...probe(now), spotId: 10 }]
      case '/api/who':
        return {
          state: 'open',
          name: null,
          personId: null,
          scopes: ['read', 'enter', 'change'],
          exposed: false,
          language: 'en',
        }
      case '/api/health':
        return {
          status: 'ok',
          version: '0.0.0',
          startedAt: now,
          now,
          broker: { kind: 'embedded', state: 'up', address: '', since: now, problem: null },
          store: { state: 'up', problem: null },
          evaluation: { lastAt: now, problem: null },
          counts: {
            readings: 1,
            duplicates: 0,
            quarantined: 0,
            quarantineDropped: 0,
            lost: 0,
            damaged: 0,
            probes: 1,
            strangers: 0,
          },
          demo: false,
          loading: null,
        }
      default:
        return []
    }
  }

  const changed = (file: string, content: Buffer): Buffer =>
    options.change === undefined || !/\.(js|css|html)$/.test(file)
      ? content
      : Buffer.from(options.change(file, content.toString()))

  const server = createServer((request, response) => {
    const url = new URL(request.url ?? '/', 'http://127.0.0.1')
    if (url.pathname === '/api/live') {
      response.writeHead(200, { 'content-type': 'text/event-stream' })
      response.write('event: beat\ndata: {}\n\n')
      streams.add(response)
      return
    }
    if (url.pathname === '/empty.html') {
      response.writeHead(200, { 'content-type': TYPES['.html'] })
      response.end('<!doctype html><html lang="en"><title>empty</title><p>empty</p></html>')
      return
    }
    const isApi = url.pathname.startsWith('/api/')
    const file = extname(url.pathname) === '' ? '/index.html' : url.pathname
    try {
      const body = isApi
        ? Buffer.from(JSON.stringify(answer(url.pathname, url.searchParams)))
        : changed(file, readFileSync(join(dist, file)))
      response.writeHead(200, {
        'content-type': isApi ? 'application/json' : (TYPES[extname(file)] ?? ''),
        'content-encoding': 'gzip',
        'loamline-live': 'pretend-0',
      })
      response.end(gzipSync(body, { level: isApi ? 1 : 9 }))
    } catch {
      response.writeHead(404).end()
    }
  })
  server.listen(0, '127.0.0.1')
  await once(server, 'listening')
  const address = server.address()
  if (address === null || typeof address === 'string') throw new Error('expected a port')
  return {
    url: `http://127.0.0.1:${address.port}`,
    async [Symbol.asyncDispose]() {
      for (const stream of streams) stream.end()
      server.closeAllConnections()
      server.close()
      await once(server, 'close')
    },
  }
}

const probe = (now: number) => ({
  id: 'p1s0',
  name: 'p1s0',
  firstSeenAt: now,
  lastSeenAt: now,
  adoptedAt: now,
  channels: [],
})
