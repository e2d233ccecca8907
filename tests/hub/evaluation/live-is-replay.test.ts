import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { advance } from '#hub/alerts/advance.ts'
import { replay, type ReplayResult } from '#hub/alerts/replay.ts'
import { assess, ASSESS_HOURLY_MS, ASSESS_RECENT_MS } from '#hub/analysis/assess.ts'
import { eventsOf } from '#hub/analysis/watch/events-of.ts'
import type { WatchEvent } from '#hub/analysis/watch/event.ts'
import { startWatch } from '#hub/analysis/watch/start-watch.ts'
import { watchHours } from '#hub/analysis/watch/watch-hours.ts'
import type { WatchState } from '#hub/analysis/watch/watch-state.ts'
import { HubError } from '#hub/errors.ts'
import { GRACE_MS, watchFold } from '#hub/evaluation/fold-watch.ts'
import type { Alarm } from '#hub/model/alarm.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import type { SpotDay } from '#hub/model/spot-day.ts'
import { loadFeeds } from '#hub/store/feeds.ts'
import { openStores, type Stores } from '#hub/store/open.ts'
import { seededRandom } from '../../support/random.ts'
import { tempDir } from '../../support/temp-dir.ts'
import { appendAll, FIRST, gardenReadings, plantGarden } from '../../support/watched-garden.ts'

const DAYS = 26
const END = FIRST + DAYS * DAY + GRACE_MS

/** What a fold came to, bed by bed. */
interface Outcome {
  readonly events: readonly (readonly WatchEvent[])[]
  readonly days: readonly (readonly SpotDay[])[]
  readonly states: readonly WatchState[]
}

async function foldTo(stores: Stores, at: number): Promise<Outcome> {
  const beds = await stores.garden.beds()
  const fold = watchFold(stores)
  const watches = await fold.upTo(beds, at)
  return {
    events: beds.map((bed) => structuredClone(eventsOf(watches.get(bed.id)!.state))),
    days: await Promise.all(beds.map((bed) => fold.days(bed.id))),
    states: beds.map((bed) => structuredClone(watches.get(bed.id)!.state)),
  }
}

async function planted(): Promise<{ stores: Stores; dir: ReturnType<typeof tempDir> }> {
  const dir = tempDir()
  const stores = await openStores(dir.path)
  await plantGarden(stores)
  return { stores, dir }
}

/** The same garden gone through by `replay`, and the events of each bed at its end. */
async function replayOf(
  stores: Stores,
  days: number,
): Promise<ReplayResult & { readonly seen: readonly (readonly WatchEvent[])[] }> {
  const beds = await stores.garden.beds()
  const spots = await stores.garden.spots()
  const journal = await stores.garden.journal({})
  const replayed = await Promise.all(
    beds.map(async (bed) => {
      const feeds = await loadFeeds(stores, bed, FIRST, FIRST + days * DAY, 'hour')
      return {
        folding: {
          state: startWatch(bed, FIRST),
          context: {
            bed,
            journal: journal.filter(({ bedId }) => bedId === bed.id),
            calibratedAt: new Map<string, number[]>(),
            others: [],
          },
          hours: watchHours(feeds),
        },
        spots: spots.filter(({ bedId }) => bedId === bed.id),
      }
    }),
  )
  const result = replay(replayed, FIRST, FIRST + days * DAY)
  return {
    ...result,
    seen: replayed.map(({ folding }) => structuredClone(eventsOf(folding.state))),
  }
}

let inOneGo: Outcome
let source: Awaited<ReturnType<typeof planted>>
beforeAll(async () => {
  source = await planted()
  await appendAll(source.stores, gardenReadings(DAYS))
  inOneGo = await foldTo(source.stores, END)
}, 120_000)
afterAll(async () => {
  await source.stores.close()
  source.dir[Symbol.dispose]()
})

test('the invented garden has something to find, or nothing below would be tested', () => {
  const [fern, moss] = inOneGo.events
  expect(fern!.map(({ cause }) => cause)).toContain('treatment')
  expect(moss!.map(({ cause }) => cause)).toContain('probe')
  // The last day is complete only when the next one has begun.
  expect(inOneGo.days[0]).toHaveLength((DAYS - 1) * 3)
})

describe('the watch ends in the same', () => {
  test.for([1, 2, 3])(
    'live with restarts in between (seed %i)',
    { timeout: 120_000 },
    async (seed) => {
      const random = seededRandom(seed)
      const { stores, dir } = await planted()
      try {
        const all = gardenReadings(DAYS)
        let fold = watchFold(stores)
        let from = 0
        let at = FIRST
        while (at < END) {
          at = Math.min(END, at + Math.ceil(random() * 40) * HOUR + Math.floor(random() * HOUR))
          const to = all.findIndex((reading) => reading.at >= at)
          const part = all.slice(from, to < 0 ? all.length : to)
          from += part.length
          await appendAll(stores, part)
          if (random() < 0.4) fold = watchFold(stores)
          await fold.upTo(await stores.garden.beds(), at)
        }
        const outcome = await foldTo(stores, END)
        expect(outcome.events).toEqual(inOneGo.events)
        expect(outcome.days).toEqual(inOneGo.days)
        expect(outcome.states).toEqual(inOneGo.states)
      } finally {
        await stores.close()
        dir[Symbol.dispose]()
      }
    },
  )

  test('with readings that came days late, in any order', async () => {
    const random = seededRandom(9)
    const { stores, dir } = await planted()
    try {
      const all = gardenReadings(DAYS)
      const late = all.filter(
        (r) => r.probe === 'fern2' && r.at >= FIRST + 16 * DAY && r.at < FIRST + 19 * DAY,
      )
      const first = all.filter((r) => !late.includes(r) && r.at < FIRST + 22 * DAY)
      const rest = all.filter((r) => r.at >= FIRST + 22 * DAY)
      await appendAll(stores, first)
      const beds = await stores.garden.beds()
      const fold = watchFold(stores)
      await fold.upTo(beds, FIRST + 22 * DAY + GRACE_MS)
      const shuffled = late
        .map((reading) => ({ reading, key: random() }))
        .toSorted((a, b) => a.key - b.key)
        .map(({ reading }) => reading)
      await appendAll(stores, shuffled)
      fold.changed(beds[0]!.id, FIRST + 16 * DAY)
      await fold.upTo(beds, FIRST + 22 * DAY + GRACE_MS)
      await appendAll(stores, rest)
      await fold.upTo(beds, END)
      const outcome = await foldTo(stores, END)
      expect(outcome.events).toEqual(inOneGo.events)
      expect(outcome.days).toEqual(inOneGo.days)
    } finally {
      await stores.close()
      dir[Symbol.dispose]()
    }
  })

  test.for(['the store fails', 'the hub is cut off', 'somebody looks'] as const)(
    'with readings that came late, though %s before they are taken in',
    { timeout: 120_000 },
    async (what) => {
      const { stores, dir } = await planted()
      try {
        const all = gardenReadings(DAYS)
        const late = all.filter((r) => r.probe === 'fern2' && r.at >= FIRST + 16 * DAY)
        await appendAll(
          stores,
          all.filter((r) => !late.includes(r)),
        )
        const beds = await stores.garden.beds()
        let away = false
        let fold = watchFold({
          ...stores,
          memory: {
            ...stores.memory,
            rememberWatch: async (...args) => {
              if (away) throw new HubError('HUB_STORE_UNAVAILABLE', 'disk away', { retry: true })
              return stores.memory.rememberWatch(...args)
            },
          },
        })
        await fold.upTo(beds, END)
        // In the middle of a round that has read its part already.
        const looking = what === 'somebody looks' ? fold.upTo(beds, END + HOUR) : null
        await appendAll(stores, late)
        if (what === 'the hub is cut off') fold = watchFold(stores)
        else fold.changed(beds[0]!.id, FIRST + 16 * DAY)
        await looking
        if (what === 'the store fails') {
          away = true
          await expect(fold.upTo(beds, END)).rejects.toThrow('disk away')
          away = false
        }
        // By the same fold: a new one goes through the last days again and would hide what was forgotten.
        const watches = await fold.upTo(beds, END)
        for (const [i, bed] of beds.entries()) {
          expect(structuredClone(eventsOf(watches.get(bed.id)!.state))).toEqual(inOneGo.events[i])
          const days = await fold.days(bed.id)
          const ended = inOneGo.days[i]!.at(-1)!.day
          expect(days.filter(({ day }) => day <= ended)).toEqual(inOneGo.days[i])
        }
      } finally {
        await stores.close()
        dir[Symbol.dispose]()
      }
    },
  )

  test('when the store fails in the middle of it', async () => {
    const { stores, dir } = await planted()
    try {
      await appendAll(stores, gardenReadings(DAYS))
      let failures = 0
      const fails = (): boolean => failures < 3 && ++failures <= 3
      const fold = watchFold({
        ...stores,
        memory: {
          ...stores.memory,
          rememberWatch: async (...args) => {
            if (fails()) throw new HubError('HUB_STORE_UNAVAILABLE', 'disk away', { retry: true })
            return stores.memory.rememberWatch(...args)
          },
        },
      })
      const beds = await stores.garden.beds()
      for (let attempt = 0; attempt < 3; attempt++) {
        await expect(fold.upTo(beds, END)).rejects.toThrow('disk away')
      }
      await fold.upTo(beds, END)
      const outcome = await foldTo(stores, END)
      expect(outcome.events).toEqual(inOneGo.events)
      expect(outcome.days).toEqual(inOneGo.days)
    } finally {
      await stores.close()
      dir[Symbol.dispose]()
    }
  }, 120_000)
})

test('one bed gone through again by itself is told of the others as before', async () => {
  const { stores, dir } = await planted()
  try {
    await appendAll(stores, gardenReadings(DAYS))
    const beds = await stores.garden.beds()
    const fold = watchFold(stores)
    await fold.upTo(beds, END)
    for (const bed of beds) {
      fold.changed(bed.id, FIRST + 9 * DAY)
      const watches = await fold.upTo(beds, END)
      expect(beds.map(({ id }) => structuredClone(eventsOf(watches.get(id)!.state)))).toEqual(
        inOneGo.events,
      )
    }
    expect(inOneGo.events.flat().some(({ evidence }) => evidence.otherBeds.length > 0)).toBe(true)
  } finally {
    await stores.close()
    dir[Symbol.dispose]()
  }
}, 120_000)

test('a probe that was taken out earlier than was known leaves no days after that', async () => {
  const { stores, dir } = await planted()
  try {
    await appendAll(stores, gardenReadings(DAYS))
    const beds = await stores.garden.beds()
    const fold = watchFold(stores)
    await fold.upTo(beds, END)
    const out = FIRST + 15 * DAY
    await stores.garden.placeProbe('fern3', null, out)
    fold.changed(beds[0]!.id, out)
    await fold.upTo(beds, END)
    const days = await fold.days(beds[0]!.id)
    expect(days.filter(({ probe }) => probe === 'fern3').map(({ day }) => day)).toEqual(
      Array.from({ length: 15 }, (_, i) => FIRST + i * DAY),
    )
    const before = (rows: readonly SpotDay[]): SpotDay[] => rows.filter(({ day }) => day < out)
    expect(before(days)).toEqual(before(inOneGo.days[0]!))
    expect(days.filter(({ probe }) => probe === 'fern1')).toHaveLength(DAYS - 1)
  } finally {
    await stores.close()
    dir[Symbol.dispose]()
  }
}, 120_000)

test('looking live after every hour, with restarts, raises at the hours that a replay tells', async () => {
  const { stores, dir } = await planted()
  try {
    // There is one more day than is looked at: what comes later must not matter.
    const all = gardenReadings(20)
    await appendAll(stores, all)
    const beds = await stores.garden.beds()
    const [fern] = beds
    const journal = await stores.garden.journal({ bedId: fern!.id })
    const first = FIRST + 17 * DAY
    let fold = watchFold(stores)
    let open: Alarm[] = []
    let nextId = 1
    const raised: { kind: string; at: number }[] = []
    for (let end = first; end <= FIRST + 19 * DAY; end += HOUR) {
      const at = end + GRACE_MS
      if ((end / HOUR) % 7 === 0) fold = watchFold(stores)
      const watch = (await fold.upTo(beds, at)).get(fern!.id)!
      const [hourly, recent] = await Promise.all([
        loadFeeds(stores, fern!, at - ASSESS_HOURLY_MS, at, 'hour'),
        loadFeeds(stores, fern!, at - ASSESS_RECENT_MS, at, 'raw'),
      ])
      const look = assess(fern!, { hourly, recent }, watch, null, journal, at)
      for (const { alarm } of advance(open, look, at)) {
        if (alarm.id === 0) raised.push({ kind: alarm.kind, at: end })
        const kept = alarm.id === 0 ? { ...alarm, id: nextId++ } : alarm
        open = open.filter(({ id }) => id !== kept.id)
        if (kept.state !== 'normal') open.push(kept)
      }
    }
    const told = (await replayOf(stores, 19)).alarms.filter(
      (a) => a.bedId === fern!.id && a.what === 'raised' && a.at >= first,
    )
    expect(told.map(({ kind }) => kind)).toContain('harmful-shift')
    expect(raised.map(({ kind }) => kind)).toEqual(told.map(({ kind }) => kind))
    // Live the hour that is still open may tell it already, never more than an hour earlier.
    for (const [i, { at }] of raised.entries()) {
      expect(told[i]!.at - at).toBeGreaterThanOrEqual(0)
      expect(told[i]!.at - at).toBeLessThanOrEqual(HOUR)
    }
  } finally {
    await stores.close()
    dir[Symbol.dispose]()
  }
}, 120_000)

test('a note written late changes what follows from its date, and leaves the days before alone', async () => {
  const { stores, dir } = await planted()
  try {
    await appendAll(stores, gardenReadings(DAYS))
    const beds = await stores.garden.beds()
    const fold = watchFold(stores)
    await fold.upTo(beds, END)
    const moss = beds.find(({ name }) => name === 'moss')!
    const at = FIRST + 14 * DAY
    await stores.garden.addEntry({
      bedId: moss.id,
      at,
      kind: 'service',
      material: null,
      amountG: null,
      waterL: null,
      probe: 'moss2',
      ph: null,
      method: null,
      text: 'cleaned',
    })
    fold.changed(moss.id, at - 3 * HOUR)
    const watches = await fold.upTo(beds, END)
    const causes = eventsOf(watches.get(moss.id)!.state).map(({ cause }) => cause)
    expect(causes).toContain('service')
    expect(causes).not.toContain('probe')
    const before = (rows: readonly SpotDay[]): SpotDay[] =>
      rows.filter(({ day }) => day < FIRST + 13 * DAY)
    expect(before(await fold.days(moss.id))).toEqual(before(inOneGo.days[1]!))
    // The same as if it had been known all along.
    const anew = await foldTo(stores, END)
    expect(anew.events[1]).toEqual(eventsOf(watches.get(moss.id)!.state))
  } finally {
    await stores.close()
    dir[Symbol.dispose]()
  }
}, 120_000)

test('a replay finds the same events, and raises what looking after every hour raises', async () => {
  const result = await replayOf(source.stores, DAYS)
  expect(result.events).toHaveLength(inOneGo.events.flat().length)
  expect(result.seen).toEqual(inOneGo.events)
  const raised = result.alarms.filter(({ what }) => what === 'raised')
  expect(raised.map(({ kind }) => kind)).toContain('harmful-shift')
  expect(raised.map(({ kind, subject }) => `${kind} ${subject}`)).toContain('probe-check moss2')
  const harmful = raised.find(({ kind }) => kind === 'harmful-shift')!
  expect(harmful.at - (FIRST + 18 * DAY)).toBeLessThanOrEqual(3 * HOUR + 5 * MINUTE)
  // Nothing is raised again while it stands.
  const stands = new Set<string>()
  for (const { what, kind, subject, bedId } of result.alarms) {
    const key = `${bedId} ${kind} ${subject}`
    expect(what === 'raised' ? !stands.has(key) : stands.has(key), `${what} ${key}`).toBe(true)
    if (what === 'raised') stands.add(key)
    else stands.delete(key)
  }
})
