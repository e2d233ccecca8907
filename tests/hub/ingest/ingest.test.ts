import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { HubError } from '#hub/errors.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import type { Arrival, Downlink, Ingest } from '#hub/ingest/ingest.ts'
import { openStores } from '#hub/store/open.ts'
import type { Stores } from '#hub/store/open.ts'
import { memoryGarden, memoryReadings } from '#tests/support/memory-stores.ts'
import { until } from '#tests/support/until.ts'

const MINUTE = 60_000
const HOUR = 60 * MINUTE
const T0 = 1_780_000_000_000

interface Step {
  readonly at?: number
  readonly retain?: boolean
  readonly mayBeDelayed?: boolean
}

function message(topic: string, payload: string, { at = T0, ...rest }: Step = {}): Arrival {
  return {
    topic,
    payload: new TextEncoder().encode(payload),
    retain: false,
    mayBeDelayed: false,
    arrivedAt: at,
    ...rest,
  }
}
const reading = (n: number, u: number, step: Step = {}, boot = 1): Arrival =>
  message('lm1/bed3a/up/r', `{"b":${boot},"n":${n},"u":${u},"v":{"m1":${1800 + n}}}`, step)
const state = (text: string, step: Step = {}): Arrival => message('lm1/bed3a/up/state', text, step)

const acks = (downlinks: readonly Downlink[]): string[] =>
  downlinks.filter((d) => d.topic.endsWith('/ack')).map((d) => d.payload)

describe('on the embedded store', () => {
  let folder: string
  let stores: Stores
  let ingest: Ingest
  let now: number
  let said: string[]

  async function start(): Promise<void> {
    stores = await openStores(folder)
    ingest = createIngest({
      readings: stores.readings,
      garden: stores.garden,
      clock: () => now,
      maxStrangers: 3,
      log: { warn: (m) => said.push(m), info: (m) => said.push(m) },
    })
  }
  async function restart(): Promise<void> {
    await stores.close()
    await start()
  }
  async function stored(channel = 'm1') {
    await stores.readings.settle()
    const [columns] = await stores.readings.buckets([
      { probe: 'bed3a', channel, from: 0, to: 5e12, step: 'raw' },
    ])
    return { time: [...(columns?.time ?? [])], mean: [...(columns?.mean ?? [])] }
  }

  beforeEach(async () => {
    folder = mkdtempSync(join(tmpdir(), 'loamline-ingest-'))
    now = T0
    said = []
    await start()
  })
  afterEach(async () => {
    await stores.close()
    rmSync(folder, { recursive: true, force: true })
  })

  test('a live reading is stored at its arrival and acknowledged', async () => {
    const answers = await ingest.ingest([reading(0, 3)])
    expect(answers).toEqual([{ topic: 'lm1/bed3a/dn/ack', payload: '{"b":1,"n":0}', retain: true }])
    expect(await stored()).toEqual({ time: [T0], mean: [1800] })
    expect(await stores.garden.probe('bed3a')).toMatchObject({ adoptedAt: null, lastSeenAt: T0 })
    expect(await stores.garden.channels('bed3a')).toMatchObject([
      { name: 'm1', senses: 'moist.raw', described: false },
    ])
  })

  test('a failed sensor is a reading without a value, and its spread is a channel of its own', async () => {
    await ingest.ingest([
      message('lm1/bed3a/up/r', '{"b":1,"n":0,"u":3,"v":{"phmv":null,"m1":5},"s":{"phmv":0.2}}'),
    ])
    expect((await stored('phmv')).mean).toEqual([NaN])
    expect((await stored('phmv.s')).mean).toEqual([0.2])
  })

  test('the same reading again changes nothing', async () => {
    await ingest.ingest([reading(0, 3), reading(0, 3)])
    await ingest.ingest([reading(0, 3, { at: T0 + HOUR })])
    expect((await stored()).time).toEqual([T0])
    await stores.readings.settle()
    expect(await stores.readings.counts()).toMatchObject({ readings: 1, duplicates: 2 })
  })

  test('the same name with other content is kept aside, not dropped', async () => {
    await ingest.ingest([reading(0, 3)])
    await ingest.ingest([message('lm1/bed3a/up/r', '{"b":1,"n":0,"u":3,"v":{"m1":7}}')])
    await stores.readings.settle()
    expect((await stored()).mean).toEqual([1800])
    expect((await stores.readings.counts()).quarantined).toBe(1)
  })

  test('live readings are acknowledged after 60 s or 10 of them', async () => {
    const answered: string[][] = []
    for (let n = 0; n < 25; n++) {
      answered.push(acks(await ingest.ingest([reading(n, n, { at: T0 + n * 1000 })])))
    }
    expect(answered.flat()).toEqual(['{"b":1,"n":0}', '{"b":1,"n":10}', '{"b":1,"n":20}'])
    expect(acks(await ingest.ingest([reading(25, 90, { at: T0 + 90_000 })]))).toEqual([
      '{"b":1,"n":25}',
    ])
  })

  test('state:on is answered with the acknowledgement of its boot and the time, never retained', async () => {
    await ingest.ingest([reading(0, 3)])
    const answers = await ingest.ingest([state('{"s":"on","b":1,"u":9}')])
    expect(answers).toEqual([
      { topic: 'lm1/bed3a/dn/ack', payload: '{"b":1,"n":0}', retain: true },
      { topic: 'lm1/bed3a/dn/time', payload: '{"t":1780000000}', retain: false },
    ])
    expect(await ingest.ingest([state('{"s":"on","b":1,"u":9}', { retain: true })])).toEqual([])
    expect(await stores.garden.probe('bed3a')).toMatchObject({ state: 'on' })
    await ingest.ingest([state('{"s":"sleep","b":1,"u":10,"nx":900}', { at: T0 + MINUTE })])
    expect(await stores.garden.probe('bed3a')).toMatchObject({
      state: 'sleep',
      expectedAt: T0 + 16 * MINUTE,
    })
  })

  test('a batch fills the hole; what it no longer holds is written off and counted', async () => {
    await ingest.ingest([reading(0, 0)])
    await ingest.ingest([reading(9, 8100, { at: T0 + 8_100_000 })])
    const batch = '{"b":1,"u":8130,"c":["m1"],"r":[[3,2700,1],[4,3600,2],[8,7200,3]]}'
    const answers = await ingest.ingest([message('lm1/bed3a/up/b', batch, { at: T0 + 8_130_000 })])
    expect(acks(answers)).toEqual(['{"b":1,"n":4}'])
    expect((await stores.readings.counts()).lost).toBe(2)
    const { time, mean } = await stored()
    expect(mean).toEqual([1800, 1, 2, 3, 1809])
    expect(time.map((t) => Math.round((t - T0) / 1000))).toEqual([0, 2700, 3600, 7200, 8100])
  })

  test('a hub restart in the middle: the books and the anchors go on', async () => {
    await ingest.ingest([reading(0, 0), reading(2, 1800, { at: T0 + 1_800_000 })])
    await restart()
    const late = T0 + 2 * HOUR
    const answers = await ingest.ingest([
      message('lm1/bed3a/up/b', '{"b":1,"u":7200,"c":["m1"],"r":[[1,900,7]]}', { at: late }),
    ])
    expect(acks(answers)).toEqual(['{"b":1,"n":2}'])
    expect((await stored()).time).toEqual([T0, T0 + 900_000, T0 + 1_800_000])
  })

  test('a restart forgets no moment that was known: what the broker held back is placed from the newest', async () => {
    // A clock that runs five per cent slow, and less than an hour between two live readings.
    await ingest.ingest([reading(0, 0), reading(1, 1710, { at: T0 + 1_800_000 })])
    await restart()
    await ingest.ingest([reading(2, 3420, { at: T0 + 5 * HOUR, mayBeDelayed: true })])
    expect((await stored()).time).toEqual([T0, T0 + 1_800_000, T0 + 3_510_000])
  })

  test('rows of an earlier boot are placed by its anchors, and their answer leaves the kept one', async () => {
    await ingest.ingest([reading(0, 0), reading(1, 3600, { at: T0 + HOUR })])
    await ingest.ingest([state('{"s":"on","b":2,"u":4}', { at: T0 + 6 * HOUR })])
    const answers = await ingest.ingest([
      message('lm1/bed3a/up/b', '{"b":1,"nb":2,"u":40,"c":["m1"],"r":[[2,7200,5],[3,10800,6]]}', {
        at: T0 + 6 * HOUR + 40_000,
      }),
    ])
    expect(answers).toEqual([
      { topic: 'lm1/bed3a/dn/ack', payload: '{"b":1,"n":3}', retain: false },
    ])
    expect((await stored()).time).toEqual([T0, T0 + HOUR, T0 + 2 * HOUR, T0 + 3 * HOUR])
  })

  test('rows of a boot nobody knows the time of end before the present boot began', async () => {
    await ingest.ingest([
      message('lm1/bed3a/up/b', '{"b":1,"nb":2,"u":40,"c":["m1"],"r":[[2,7200,5],[3,10800,6]]}'),
    ])
    // Kept and counted, but apart from the rows that charts and assessments read.
    await stores.readings.settle()
    expect((await stores.readings.counts()).readings).toBe(2)
    expect((await stored()).time).toEqual([])
  })

  test('a clock an hour off or from 2100 does not move a reading', async () => {
    await ingest.ingest([
      message('lm1/bed3a/up/r', '{"b":1,"n":0,"u":3,"t":1779996400,"v":{"m1":1}}'),
      message('lm1/bed3a/up/r', '{"b":1,"n":1,"u":4,"t":4102444800,"v":{"m1":2}}', {
        at: T0 + 1000,
      }),
      message('lm1/bed3a/up/r', '{"b":1,"n":2,"u":5,"t":1779999999,"v":{"m1":3}}', {
        at: T0 + 2000,
      }),
    ])
    expect(await stored()).toEqual({ time: [T0 - 1000, T0, T0 + 1000], mean: [3, 1, 2] })
  })

  test('a clock that was never set is kept aside with what to do about it', async () => {
    await ingest.ingest([
      message('lm1/bed3a/up/r', '{"b":1,"n":0,"u":3,"t":12,"v":{"m1":1}}'),
      reading(1, 4),
    ])
    const [row] = await stores.readings.quarantine(5)
    expect(row?.reason).toMatch(/unset clock\) \[LM-14\]/)
    expect(new TextDecoder().decode(row?.payload)).toContain('"t":12')
    expect((await stored()).mean).toEqual([1801])
  })

  test('kept copies of readings are neither readings nor anchors; descriptions are taken', async () => {
    await ingest.ingest([
      reading(0, 3, { retain: true }),
      message('lm1/bed3a/up/b', '{"b":1,"u":9,"c":["m1"],"r":[[0,3,1]]}', { retain: true }),
      message('lm1/bed3a/up/v/m1', '5', { retain: true }),
      message('lm1/bed3a/up/ch/m1', '{"q":"moist.raw","u":"Hz","lo":0,"hi":4095}', {
        retain: true,
      }),
      message('lm1/bed3a/up/birth', '{"p":1,"fw":"x 1","b":1,"u":4,"iv":900,"ch":"m1,phmv"}', {
        retain: true,
      }),
    ])
    expect((await stored()).time).toEqual([])
    expect(ingest.tally()).toMatchObject({ retainedIgnored: 3, quarantined: 0 })
    expect((await stores.readings.recall('bed3a', 1)).anchors).toEqual([])
    expect(await stores.garden.probe('bed3a')).toMatchObject({ firmware: 'x 1', intervalS: 900 })
    expect(
      (await stores.garden.channels('bed3a')).map((c) => [c.name, c.unit, c.described]),
    ).toEqual(
      expect.arrayContaining([
        ['m1', 'Hz', true],
        ['phmv', 'mV', false],
      ]),
    )
  })

  test('a description that came first is not undone by a guess', async () => {
    await ingest.ingest([message('lm1/bed3a/up/ch/m1', '{"q":"vwc","u":"/"}')])
    await restart()
    await ingest.ingest([reading(0, 3, { at: T0 + HOUR })])
    expect(await stores.garden.channels('bed3a')).toMatchObject([
      { senses: 'vwc', described: true },
    ])
  })

  test('plain numbers are readings, numbered by the hub, over a restart too', async () => {
    await ingest.ingest([message('lm1/bed3a/up/v/m1', '5'), message('lm1/bed3a/up/v/ph', '6.8')])
    await restart()
    const answers = await ingest.ingest([
      message('lm1/bed3a/up/v/m1', '6', { at: T0 + MINUTE }),
      message('lm1/bed3a/up/v/m1', 'null', { at: T0 + 2 * MINUTE }),
    ])
    expect(answers).toEqual([])
    expect(await stored()).toEqual({
      time: [T0, T0 + MINUTE, T0 + 2 * MINUTE],
      mean: [5, 6, NaN],
    })
    expect((await stored('ph')).mean).toEqual([6.8])
    await stores.readings.settle()
    expect(await stores.readings.counts()).toMatchObject({ duplicates: 0, quarantined: 0 })
  })

  test('a flood of strangers stops at the limit; what they send is kept aside with the reason', async () => {
    const flood = Array.from({ length: 8 }, (_, i) =>
      message(`lm1/flood${i}/up/r`, '{"b":1,"n":0,"u":3,"v":{"m1":1}}'),
    )
    await ingest.ingest(flood)
    expect(await stores.garden.probes()).toHaveLength(3)
    const rows = await stores.readings.quarantine(20)
    expect(rows).toHaveLength(5)
    expect(rows[0]?.reason).toContain('3 unknown probes wait to be adopted already')
    expect(said.filter((line) => line.includes('wait to be adopted'))).toHaveLength(1)
    // One adopted makes room for another.
    await stores.garden.adoptProbe('flood0', 'Tomato bed', T0)
    await ingest.ingest([message('lm1/flood7/up/r', '{"b":1,"n":1,"u":9,"v":{"m1":1}}')])
    expect((await stores.garden.probes()).map((p) => p.id)).toContain('flood7')
  })

  test('a probe that makes up channels stops at sixteen', async () => {
    for (let i = 0; i < 20; i++) {
      await ingest.ingest([
        message('lm1/bed3a/up/r', `{"b":1,"n":${i},"u":${i},"v":{"c${i}":1}}`, { at: T0 + i }),
      ])
    }
    expect(await stores.garden.channels('bed3a')).toHaveLength(16)
    const rows = await stores.readings.quarantine(20)
    expect(rows).toHaveLength(4)
    expect(rows[0]?.reason).toContain('at most 16')
  })

  test('garbage of all kinds is kept aside with a reason, and the good one beside it is stored', async () => {
    const garbage: Arrival[] = [
      message('lm1/bed3a/up/r', '{"b":1,"n":0,"u":3,"v":{"ph":nan}}'),
      message('lm1/bed3a/up/nonsense', '1'),
      message('lm1/Bed3a/up/r', '{}'),
      message('lm1/bed3a/up/r', ' '.repeat(5000)),
      message('lm1/bed3a/up/s', '[{"n":"ph","v":6.8}]'),
      message('lm1/bed3a/dn/ack', '{"b":1,"n":5}'),
      message('other', 'x'),
      { ...message('lm1/bed3a/up/r', ''), payload: Uint8Array.of(0xff, 0xfe, 0) },
      { ...reading(3, 3), refused: 'topic: not yours' },
    ]
    await ingest.ingest([...garbage, reading(0, 3)])
    expect((await stored()).mean).toEqual([1800])
    const rows = await stores.readings.quarantine(20)
    expect(rows).toHaveLength(garbage.length)
    for (const row of rows) expect(row.reason).toMatch(/^(topic|payload)/)
    expect(Math.max(...rows.map((row) => row.payload.length))).toBe(4096)
    expect(said.length).toBeGreaterThan(0)
  })

  test('readings a broker held back are placed where they belong', async () => {
    await ingest.ingest([reading(0, 0)])
    await ingest.ingest([reading(1, 3600, { at: T0 + HOUR })])
    await restart()
    const at = T0 + 5 * HOUR
    await ingest.ingest([2, 3, 4, 5].map((n) => reading(n, n * 3600, { at, mayBeDelayed: true })))
    expect((await stored()).time).toEqual([0, 1, 2, 3, 4, 5].map((h) => T0 + h * HOUR))
  })
})

describe('when a store is down', () => {
  function setUp() {
    const store = memoryReadings()
    const garden = memoryGarden()
    const said: string[] = []
    const ingest = createIngest({
      readings: store.port,
      garden: garden.port,
      clock: () => T0,
      log: { warn: (m) => said.push(m), info: (m) => said.push(m) },
      retryMs: [1],
    })
    return { store, garden, ingest, said }
  }

  test('it tries until the store is back, answers only then, and says both', async () => {
    const { store, ingest, said } = setUp()
    await ingest.ingest([reading(0, 0)])
    store.down = true
    let answered = false
    const waiting = ingest.ingest([reading(1, 900, { at: T0 + 900_000 })]).then((answers) => {
      answered = true
      return answers
    })
    await until('it is seen', () => ingest.state().state === 'down')
    expect(ingest.state().problem).toBe('disk full')
    expect(answered).toBe(false)
    store.down = false
    expect(acks(await waiting)).toEqual(['{"b":1,"n":1}'])
    expect(ingest.state()).toMatchObject({ state: 'up', problem: null })
    expect(said).toEqual([
      expect.stringContaining('wait unacknowledged'),
      expect.stringContaining('again'),
    ])
  })

  test('stopped meanwhile, it rejects, and what was not stored is in no book', async () => {
    const { store, ingest } = setUp()
    store.down = true
    const waiting = ingest.ingest([reading(0, 0)])
    await until('it is seen', () => ingest.state().state === 'down')
    ingest.stop()
    await expect(waiting).rejects.toBeInstanceOf(HubError)
    expect(store.readings.size).toBe(0)
  })

  test('where trying again cannot help it says so and rejects, and takes readings again later', async () => {
    const { store, ingest, said } = setUp()
    const append = store.port.append.bind(store.port)
    store.port.append = () =>
      Promise.reject(new HubError('HUB_STORE_UNAVAILABLE', 'damaged', { retry: false }))
    await expect(ingest.ingest([reading(0, 0)])).rejects.toThrow('damaged')
    expect(ingest.state()).toMatchObject({ state: 'down', problem: 'damaged' })
    expect(said).toEqual([expect.stringContaining('not taken any more')])
    store.port.append = append
    expect(acks(await ingest.ingest([reading(0, 0)]))).toEqual(['{"b":1,"n":0}'])
    expect(ingest.state().state).toBe('up')
  })

  test('a mistake of our own is not retried: it comes out', async () => {
    const { store, ingest } = setUp()
    store.port.append = () => Promise.reject(new TypeError('oops'))
    await expect(ingest.ingest([reading(0, 0)])).rejects.toThrow('oops')
  })

  test('what is read ahead of a commit is not acknowledged by it', async () => {
    const { store, ingest } = setUp()
    const first = Promise.withResolvers<void>()
    store.gate = first.promise
    const one = ingest.ingest([reading(0, 0)])
    const two = ingest.ingest([reading(1, 120, { at: T0 + 120_000 })])
    await until('the first is at the store', () => store.gate !== null)
    first.resolve()
    expect(acks(await one)).toEqual(['{"b":1,"n":0}'])
    expect(acks(await two)).toEqual(['{"b":1,"n":1}'])
  })

  test('when a commit is given up, what was read after it is not stored either, and comes again', async () => {
    const { store, ingest } = setUp()
    const append = store.port.append.bind(store.port)
    const gate = Promise.withResolvers<void>()
    store.port.append = async () => {
      await gate.promise
      throw new HubError('HUB_STORE_UNAVAILABLE', 'damaged', { retry: false })
    }
    const one = ingest.ingest([reading(0, 0)])
    const two = ingest.ingest([reading(1, 900)])
    const both = Promise.allSettled([one, two])
    gate.resolve()
    expect((await both).map(({ status }) => status)).toEqual(['rejected', 'rejected'])
    expect(store.readings.size).toBe(0)
    store.port.append = append
    expect(acks(await ingest.ingest([reading(0, 0), reading(1, 900)]))).toEqual(['{"b":1,"n":1}'])
    expect(store.batches).toHaveLength(1)
  })

  test('when a commit is given up while the next is being read, nothing is said of readings never stored', async () => {
    const { store, ingest } = setUp()
    const append = store.port.append.bind(store.port)
    const recall = store.port.recall.bind(store.port)
    const atStore = Promise.withResolvers<void>()
    const waits = Promise.withResolvers<void>()
    const givenUp = Promise.withResolvers<void>()
    const known = Promise.withResolvers<void>()
    store.port.append = async () => {
      atStore.resolve()
      await givenUp.promise
      throw new HubError('HUB_STORE_UNAVAILABLE', 'damaged', { retry: false })
    }
    store.port.recall = async (probe, boot) => {
      if (probe === 'bed9') {
        waits.resolve()
        await known.promise
      }
      return recall(probe, boot)
    }
    const other = message('lm1/bed9/up/r', '{"b":1,"n":0,"u":3,"v":{"m1":1}}')
    const one = ingest.ingest([reading(0, 0)])
    const two = ingest.ingest([reading(1, 900), other])
    const both = Promise.allSettled([one, two])
    await atStore.promise
    // Its first reading is in the books, its second waits for a boot.
    await waits.promise
    store.port.append = append
    givenUp.resolve()
    await one.catch(() => {})
    known.resolve()
    expect((await both).map(({ status }) => status)).toEqual(['rejected', 'rejected'])
    expect([store.readings.size, store.marks.size]).toEqual([0, 0])
    expect(acks(await ingest.ingest([reading(0, 0), reading(1, 900), other]))).toEqual([
      '{"b":1,"n":1}',
      '{"b":1,"n":0}',
    ])
    expect(store.readings.size).toBe(3)
  })

  test('calls are taken one at a time, in order', async () => {
    const { store, ingest } = setUp()
    const gate = Promise.withResolvers<void>()
    store.gate = gate.promise
    const all = [0, 1, 2].map((n) => ingest.ingest([reading(n, n)]))
    gate.resolve()
    await Promise.all(all)
    expect(store.batches.map((b) => b.readings.map((r) => r.seq))).toEqual([[0], [1], [2]])
  })
})
