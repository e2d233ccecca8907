import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { electrodePh, readableLine } from '#hub/analysis/measure/electrode.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import { COLLECTIONS, collectionOf, PROPERTIES, RELATIONS } from '#hub/sensorthings/data-model.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'
import { smallGarden, SMALL_GARDEN_NOW, type SmallGarden } from '../../support/small-garden.ts'

/** An answer as these tests read it; what is not there is undefined. */
interface Json {
  readonly [name: string]: unknown
  readonly value: readonly Json[]
  readonly Locations: readonly Json[]
  readonly Datastreams: readonly Json[]
  readonly unitOfMeasurement: { readonly definition: string | null }
}
const ROOT = 'http://loamline.test/sta/v1.1'
const READINGS = (3 * DAY) / (15 * MINUTE)

let host: ApiHost
let small: SmallGarden
/** What the queries asked the store for, to see that nothing is read that nobody asked for. */
let rawDays = 0
beforeAll(async () => {
  host = await apiHost(SMALL_GARDEN_NOW)
  small = await smallGarden(host)
  const { readings } = host.deps
  const buckets = readings.buckets.bind(readings)
  readings.buckets = async (queries) => {
    for (const { step, from, to } of queries) if (step === 'raw') rawDays += (to - from) / DAY
    return buckets(queries)
  }
})
afterAll(async () => {
  await host[Symbol.asyncDispose]()
})

async function ask(path: string, method: 'GET' | 'POST' | 'DELETE' = 'GET') {
  const url = path.startsWith(ROOT) ? path.slice('http://loamline.test'.length) : `/sta/v1.1${path}`
  const answer = await host.app.inject({ method, url, headers: { host: 'loamline.test' } })
  return { status: answer.statusCode, text: answer.body, headers: answer.headers }
}
async function get(path: string): Promise<Json> {
  const answer = await ask(path)
  expect(answer.status, answer.text).toBe(200)
  return JSON.parse(answer.text) as Json
}
const filter = (text: string): string => `$filter=${encodeURIComponent(text)}`
const STREAM = `/Datastreams('kes1:phmv')`

describe('service root and addresses, OGC 18-088 clauses 9.2.1 to 9.2.8', () => {
  test('the root lists every collection and what is met', async () => {
    const root = await get('')
    expect(root['value']).toEqual(
      Object.keys(COLLECTIONS).map((name) => ({ name, url: `${ROOT}/${name}` })),
    )
    const { conformance } = root['serverSettings'] as { conformance: string[] }
    expect(
      conformance.every((uri) => uri.startsWith('http://www.opengis.net/spec/iot_sensing/1.1/')),
    ).toBe(true)
    // What is not there is not claimed.
    expect(conformance.join()).not.toMatch(
      /create|update|delete|batch|multi-datastream|data-array|mqtt|functions/,
    )
  })

  test('every link of every entity leads where it says', async () => {
    for (const name of Object.keys(COLLECTIONS)) {
      const { value } = await get(`/${name}?$top=3`)
      expect(value.length, name).toBeGreaterThan(0)
      for (const entity of value) {
        const alone = await get(entity['@iot.selfLink'] as string)
        expect(alone).toEqual(entity)
        const type = COLLECTIONS[name as keyof typeof COLLECTIONS]
        for (const [relation, { many, to }] of Object.entries(RELATIONS[type])) {
          const link = entity[`${relation}@iot.navigationLink`] as string
          const linked = await get(link)
          const first = many ? linked['value'][0] : linked
          if (first === undefined) continue
          expect(first['@iot.selfLink']).toContain(`/${collectionOf(to)}(`)
        }
      }
    }
  })

  test('what the tables of clause 8.2 make mandatory is there', async () => {
    const mandatory: Record<string, readonly string[]> = {
      Things: ['name', 'description'],
      Locations: ['name', 'description', 'encodingType', 'location'],
      HistoricalLocations: ['time'],
      Datastreams: ['name', 'description', 'unitOfMeasurement', 'observationType'],
      Sensors: ['name', 'description', 'encodingType', 'metadata'],
      ObservedProperties: ['name', 'definition', 'description'],
      Observations: ['phenomenonTime', 'result', 'resultTime'],
      FeaturesOfInterest: ['name', 'description', 'encodingType', 'feature'],
    }
    for (const [name, properties] of Object.entries(mandatory)) {
      const { value } = await get(`/${name}?$top=1000`)
      for (const entity of value) {
        for (const property of properties) expect(entity, name).toHaveProperty(property)
        const own = Object.keys(entity).filter((key) => !key.includes('@'))
        const type = COLLECTIONS[name as keyof typeof COLLECTIONS]
        expect(own.filter((key) => !PROPERTIES[type].includes(key))).toEqual([])
      }
    }
  })

  test('ids, properties, values, paths through several entities', async () => {
    expect(await get(`/Things('kes1')/name`)).toEqual({ name: 'Kestrel' })
    expect((await ask(`/Things('kes1')/name/$value`)).text).toBe('Kestrel')
    expect((await ask(`/Locations(${small.spots[0]!.id})/name/$value`)).text).toContain('west')
    expect((await ask(`/Things('kes1')/properties/intervalS/$value`)).text).toBe('900')
    const deep = await get(`/Things('kes1')/Datastreams('kes1:phmv')/ObservedProperty`)
    expect(deep['@iot.id']).toBe('ph.emf')
    const refs = await get(`/Things('kes1')/Datastreams/$ref`)
    expect(refs['value'][0]).toEqual({ '@iot.selfLink': `${ROOT}/Datastreams('kes1%3Abat')` })
    // A property that has no value.
    expect((await ask(`${STREAM}/observedArea`)).status).toBe(204)
  })

  test.each([
    ['/Probes', 404, 'Things'],
    [`/Things('nobody')`, 404, 'nobody'],
    [`/Things('kes1')/Datastreams('wren2:phmv')`, 404, 'wren2'],
    [`/Things('kes1')/colour`, 404, 'colour'],
    // Names that every object answers to.
    [`/Things('kes1')/constructor`, 404, 'constructor'],
    [`/Things('kes1')/__proto__/name`, 404, '__proto__'],
    ['/Things?$expand=constructor', 400, 'constructor'],
    ['/Things?$orderby=__proto__/name', 400, '__proto__'],
    [`/Things?${filter('constructor/x eq 3')}`, 400, 'constructor'],
    [`/Things(kes1)`, 400, 'quotes'],
    [`/Things/name`, 400, 'id'],
    [`/Things('kes1`, 400, 'quotes'],
    ['/Things?$top=-1', 400, '-1'],
    ['/Things?$top=1&$top=2', 400, 'once'],
    ['/Things?$nonsense=1', 400, '$nonsense'],
    ['/Things?$orderby=colour', 400, 'colour'],
    ['/Things?$select=colour', 400, 'colour'],
    ['/Things?$expand=colour', 400, 'colour'],
    [`/Things?${filter('colour eq 3')}`, 400, 'colour'],
    [`/Things?${filter("startswith(name, 'a')")}`, 501, 'startswith'],
    [`/Things?${filter('Datastreams/Observations/result gt 3')}`, 501, 'Observations'],
    ['/Observations?$resultFormat=dataArray', 501, '$resultFormat'],
    [`/Observations('kes1:phmv:1')`, 404, 'no such Observation'],
    [`/Observations?$orderby=result&$skip=20000`, 400, '10000'],
    [`/Things('kes1')?$top=1`, 400, '$top'],
    [`/Things('kes1')/name?$select=name`, 400, 'property'],
  ])('%s is refused with %d', async (path, status, words) => {
    const answer = await ask(path)
    expect(answer.status, answer.text).toBe(status)
    expect(answer.headers['content-type']).toContain('application/problem+json')
    expect((JSON.parse(answer.text) as Json)['detail']).toContain(words)
  })

  test('it is to read', async () => {
    const answer = await ask('/Things', 'POST')
    expect(answer.status).toBe(405)
    expect(answer.headers['allow']).toBe('GET')
    expect((await ask(`/Things('kes1')`, 'DELETE')).status).toBe(405)
  })
})

describe('query options, OGC 18-088 clause 9.3.3', () => {
  test('$expand over two levels, and with options of its own', async () => {
    const thing = await get(
      `/Things('kes1')?$expand=Datastreams($select=name,id;$top=2;$count=true;$expand=ObservedProperty($select=name)),Locations`,
    )
    expect(thing['Datastreams@iot.count']).toBe(7)
    expect(thing['Datastreams']).toHaveLength(2)
    expect(thing['Datastreams'][0]).toMatchObject({
      '@iot.id': 'kes1:bat',
      name: 'Kestrel: bat',
      ObservedProperty: { name: 'Supply voltage' },
    })
    expect(Object.keys(thing['Datastreams'][0]!).toSorted()).toEqual(
      ['@iot.id', '@iot.selfLink', 'ObservedProperty', 'name'].toSorted(),
    )
    const rest = await get(thing['Datastreams@iot.nextLink'] as string)
    expect(rest['value'][0]).toMatchObject({ '@iot.id': 'kes1:phmv', ObservedProperty: {} })
    // It sits in the second spot now.
    expect(thing['Locations'].map((l: Json) => l['@iot.id'])).toEqual([small.spots[1]!.id])
    const slashed = await get(
      `/Things('kes1')?$expand=Datastreams/ObservedProperty,Datastreams/Sensor`,
    )
    expect(slashed['Datastreams'][0]).toMatchObject({ ObservedProperty: {}, Sensor: {} })
  })

  test('$select, $orderby, $filter, $skip and $count together act in the order of the standard', async () => {
    const query = `$select=name&$orderby=name desc&$skip=1&$top=2&$count=true&${filter("Thing/name eq 'Kestrel'")}`
    const answer = await get(`/Datastreams?${query}`)
    expect(answer['@iot.count']).toBe(7)
    expect(answer['value']).toEqual([
      { name: 'Kestrel: soil temperature' },
      { name: 'Kestrel: soil pH' },
    ])
    const next = await get(answer['@iot.nextLink'] as string)
    expect(next['value']).toHaveLength(2)
    expect(next['value'][0]).toEqual({ name: 'Kestrel: soil moisture' })
  })

  test('a filter along a path that branches holds when any branch does', async () => {
    const found = await get(`/Things?${filter(`Datastreams/id eq 'wren2:bat'`)}`)
    expect(found['value'].map((t: Json) => t['@iot.id'])).toEqual(['wren2'])
    const placed = await get(`/Things?${filter(`Locations/name ne null`)}`)
    expect(placed['value'].map((t: Json) => t['@iot.id'])).toEqual(['kes1'])
  })

  test('observations: newest first, by time and by result, counted', async () => {
    const newest = await get(`${STREAM}/Observations?$orderby=phenomenonTime desc&$top=1`)
    expect(newest['value'][0]).toMatchObject({
      phenomenonTime: new Date(SMALL_GARDEN_NOW - 15 * MINUTE).toISOString(),
      result: 60 - (READINGS - 1) / 100,
    })
    const day = new Date(small.from + DAY).toISOString()
    const some = await get(
      `${STREAM}/Observations?$count=true&$top=5&${filter(`phenomenonTime ge ${day} and result le 59`)}`,
    )
    expect(some['@iot.count']).toBe(READINGS - 100)
    expect(some['value'][0]!['result']).toBe(59)
    const timed = await get(
      `${STREAM}/Observations?$count=true&$top=0&${filter(`phenomenonTime gt ${day}`)}`,
    )
    expect(timed).toEqual({ '@iot.count': (2 * DAY) / (15 * MINUTE) - 1, value: [] })
    const lowest = await get(
      `/Observations?$orderby=result,phenomenonTime desc&$top=2&${filter(`Datastream/id eq 'wren2:m'`)}`,
    )
    expect(lowest['value'].map((o: Json) => o['result'])).toEqual([500, 500])
    const [a, b] = lowest['value'].map((o: Json) => o['phenomenonTime']) as [string, string]
    expect(a > b).toBe(true)
  })

  test('pages: all of them together are everything, each once, also while readings come in', async () => {
    const seen: string[] = []
    let link: string | undefined =
      `/Observations?$top=1000&$orderby=phenomenonTime desc&${filter("Datastream/Thing/id eq 'kes1'")}`
    for (let pages = 0; link !== undefined; pages++) {
      expect(pages).toBeLessThan(20)
      const page = await get(link.replace('$top=1000', '$top=300'))
      seen.push(...page.value.map((o) => o['@iot.id'] as string))
      link = page['@iot.nextLink'] as string | undefined
    }
    // Every tenth soil temperature failed and is no observation, neither as sent nor as made.
    const failed = Math.floor(READINGS / 10)
    expect(seen).toHaveLength(6 * READINGS - 2 * failed)
    expect(new Set(seen).size).toBe(seen.length)
    const times = seen.map((id) => Number(id.slice(id.lastIndexOf(':') + 1)))
    expect(times).toEqual(times.toSorted((x, y) => y - x))
  })

  test('a page reads no more of the store than the days it shows', async () => {
    rawDays = 0
    await get(`${STREAM}/Observations?$orderby=phenomenonTime desc&$top=10`)
    expect(rawDays).toBeLessThanOrEqual(1)
  })
})

describe('what the hub makes of readings', () => {
  test('soil pH by the calibration in force, marked where there is none', async () => {
    const at = small.from + 24 * HOUR
    const one = await get(`/Observations('kes1:soil-ph:${at}')`)
    const line = readableLine((await host.deps.garden.calibrations('kes1'))[0] as never)
    expect(one['result']).toBeCloseTo(electrodePh(line, 60 - 96 / 100, 15), 9)
    expect(one).not.toHaveProperty('resultQuality')
    const early = await get(`/Observations('kes1:soil-ph:${small.from}')`)
    expect(early['resultQuality']).toEqual([{ DQ_Status: { code: 'uncalibrated' } }])
  })

  test('an observation belongs to the soil its probe sat in then', async () => {
    const [west, east] = small.spots
    const before = await get(`/Observations('kes1:phmv:${small.from}')/FeatureOfInterest`)
    expect(before['@iot.id']).toBe(west!.id)
    const after = await get(
      `/Observations('kes1:phmv:${SMALL_GARDEN_NOW - HOUR}')/FeatureOfInterest`,
    )
    expect(after['@iot.id']).toBe(east!.id)
    const here = await get(
      `/FeaturesOfInterest(${east!.id})/Observations?$count=true&$top=1&${filter("Datastream/id eq 'kes1:phmv'")}`,
    )
    expect(here['@iot.count']).toBe(DAY / (15 * MINUTE))
    expect(here['value'][0]!['phenomenonTime']).toBe(new Date(SMALL_GARDEN_NOW - DAY).toISOString())
    const history = await get(`/Things('kes1')/HistoricalLocations?$expand=Locations($select=id)`)
    expect(history['value'].map((h: Json) => h['Locations'][0]!['@iot.id'])).toEqual([
      west!.id,
      east!.id,
    ])
    const nowhere = await get(`/Observations('wren2:phmv:${small.from}')/FeatureOfInterest`)
    expect(nowhere['name']).toBe('Not in a bed')
  })

  test('units by UCUM', async () => {
    const { value } = await get(`/Datastreams?${filter("Thing/id eq 'kes1'")}`)
    const units = Object.fromEntries(
      value.map((d) => [d['@iot.id'], d['unitOfMeasurement'].definition]),
    )
    expect(units).toMatchObject({
      'kes1:phmv': 'ucum:mV',
      'kes1:m': 'ucum:{count}',
      'kes1:st': 'ucum:Cel',
      'kes1:bat': 'ucum:V',
      'kes1:soil-ph': 'ucum:[pH]',
      'kes1:soil-moisture': 'ucum:1',
      'kes1:soil-temperature': 'ucum:Cel',
    })
  })
})
