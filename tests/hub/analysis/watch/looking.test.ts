import { expect, test } from 'vitest'
import { FLAG } from '#hub/analysis/quality/flags.ts'
import { peekWatch } from '#hub/analysis/watch/peek-watch.ts'
import { startWatch } from '#hub/analysis/watch/start-watch.ts'
import { stepWatch } from '#hub/analysis/watch/step-watch.ts'
import type { SpotWatching } from '#hub/analysis/watch/watch-view.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import { BED, START, dayAt, madeBed, probeOf, step, watched } from './watched-bed.ts'

const bed = madeBed({ seed: 1, days: 21, added: (_, day) => step(1.3, 20 + 5 / 24)(day) })
const closed = bed.hours.filter(({ hour }) => hour < dayAt(20) + 5 * HOUR)
/** Median of the few readings of the open hour. */
const open = bed.hours.find(({ hour }) => hour === dayAt(20) + 5 * HOUR)!.rows
const now = dayAt(20) + 5 * HOUR + 7 * MINUTE

test('a bed that jumped minutes ago is told by the open hour', () => {
  const { state } = watched({ ...bed, hours: closed })
  expect(peekWatch(state, [], bed.context, now).events).toEqual([])
  const { events } = peekWatch(state, open, bed.context, now)
  expect(events).toHaveLength(1)
  expect(events[0]).toMatchObject({ form: 'step', cause: 'soil', state: 'open' })
  expect(events[0]!.noticedAt).toBeLessThanOrEqual(now)
  expect(events[0]!.noticedAt).toBeGreaterThanOrEqual(dayAt(20) + 5 * HOUR)
  expect(Math.abs(events[0]!.size - 1.3)).toBeLessThan(0.2)
  expect(events[0]!.spots.filter(({ moved }) => moved)).toHaveLength(3)
})

test('the same event has the same id once the hour has closed', () => {
  const { state } = watched({ ...bed, hours: closed })
  const early = peekWatch(state, open, bed.context, now).events[0]!
  stepWatch(state, { hour: dayAt(20) + 5 * HOUR, rows: open }, bed.context)
  const late = peekWatch(state, [], bed.context, now + HOUR).events
  expect(late.map(({ id }) => id)).toEqual([early.id])
})

test('looking changes nothing', () => {
  const { state } = watched({ ...bed, hours: closed })
  const before = structuredClone(state)
  peekWatch(state, open, bed.context, now)
  expect(state).toEqual(before)
})

test('one probe alone, a flagged row, a spot just handled or dry soil is not told at once', () => {
  const { state } = watched({ ...bed, hours: closed })
  const usual = bed.hours.find(({ hour }) => hour === dayAt(19) + 5 * HOUR)!.rows
  const events = (rows: typeof open, context = bed.context) =>
    peekWatch(state, rows, context, now).events
  expect(events([open[0]!, usual[1]!, usual[2]!])).toEqual([])
  expect(events(open.map((row) => ({ ...row, flags: FLAG.range })))).toEqual([])
  expect(events(open.map((row) => ({ ...row, moisture: 0.15, moistureLow: 0.15 })))).toEqual([])
  const visited = new Map([0, 1].map((spot) => [probeOf(spot), [now - 2 * HOUR]]))
  expect(events(open, { ...bed.context, calibratedAt: visited })).toEqual([])
})

test('the open hour shows what is left of an event', () => {
  const { state } = watched({ ...bed, hours: bed.hours })
  const at = dayAt(21) + 9 * MINUTE
  const back = bed.hours.find(({ hour }) => hour === dayAt(19))!.rows
  const [event] = peekWatch(state, back, bed.context, at).events
  expect(Math.abs(event!.present)).toBeLessThan(0.25)
  expect(Math.abs(peekWatch(state, [], bed.context, at).events[0]!.present - 1.3)).toBeLessThan(0.2)
})

test('an event that ended is told for another 30 days', () => {
  const made = madeBed({ seed: 2, days: 70, added: (_, day) => step(1.2, 20, 22)(day) })
  const { state } = watched(made)
  const ended = state.events[0]!.endedAt!
  const told = (at: number) => peekWatch(state, [], made.context, at).events.length
  expect(told(ended + 30 * DAY)).toBe(1)
  expect(told(ended + 30 * DAY + 1)).toBe(0)
})

test('what is known of each spot is said', () => {
  const made = madeBed({
    seed: 3,
    days: 25,
    spots: 5,
    moisture: (day, spot) => (spot === 1 && day > 24 ? 0.16 : 0.25),
    added: (spot, day) => (spot === 2 ? step(1.5, 24.5)(day) : 0),
    silent: (spot, day) => spot === 3 && day > 23.5,
    journal: [{ at: dayAt(24.9), kind: 'service', probe: probeOf(4) }],
  })
  const { state } = watched(made)
  const { spots, learning } = peekWatch(state, [], made.context, dayAt(25))
  const expected: SpotWatching[] = ['watched', 'dry', 'set aside', 'silent', 'settling']
  expect(spots.map(({ watching }) => watching)).toEqual(expected)
  expect(learning).toBeNull()
  expect(Math.abs(spots[0]!.usual - 6.3)).toBeLessThan(0.1)
  expect(spots[0]!.sd).toBeGreaterThan(0.02)
  expect(spots[0]!.falsePerYear).toBe(0)
})

test('a young bed says what it still needs', () => {
  const context = bed.context
  const none = peekWatch(startWatch(BED, START), [], context, dayAt(1))
  expect(none.learning).toMatchObject({ status: 'insufficient', have: 'no readings yet' })
  const { state } = watched({ ...bed, hours: bed.hours.filter(({ hour }) => hour < dayAt(2.5)) })
  const { learning, spots } = peekWatch(state, [], context, dayAt(2.5))
  expect(learning!.have).toBe('2 days of moist, undisturbed readings')
  expect(spots.every(({ watching }) => watching === 'learning')).toBe(true)
})
