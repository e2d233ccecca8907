import { expect, test } from 'vitest'
import { EMPTY, hubReducer } from '../../dashboard/src/hub-state.ts'
import type { HubState } from '../../dashboard/src/hub-state.ts'
import { alarmView, bedView } from './bed-view.ts'

const withBeds: HubState = hubReducer(EMPTY, {
  type: 'fetched',
  at: 50,
  what: {
    beds: [bedView({ id: 2, rank: 1 }), bedView({ id: 1 }), bedView({ id: 3, retiredAt: 9 })],
  },
})

test('beds stand in their order, retired ones are gone', () => {
  expect(withBeds.beds.map((bed) => bed.id)).toEqual([1, 2])
  expect(withBeds.loaded).toBe(true)
})

test('a bed that comes live takes the place of the old one and counts up', () => {
  const bed = bedView({ id: 2, rank: 1, name: 'New name' })
  const next = hubReducer(withBeds, { type: 'live', at: 60, event: { event: 'bed', data: bed } })
  expect(next.beds.map((b) => b.name)).toEqual(['Long bed', 'New name'])
  expect(next.bedTicks).toEqual({ 2: 1 })
  expect(next.heardAt).toBe(60)
})

test('a bed that was retired live leaves the wall', () => {
  const data = bedView({ id: 2, retiredAt: 5 })
  const next = hubReducer(withBeds, { type: 'live', at: 60, event: { event: 'bed', data } })
  expect(next.beds.map((b) => b.id)).toEqual([1])
})

test('an alarm is announced once, replaced when it changes, and gone when it is over', () => {
  const live = (state: HubState, change: Parameters<typeof alarmView>[0]) =>
    hubReducer(state, { type: 'live', at: 60, event: { event: 'alarm', data: alarmView(change) } })
  const raised = live(withBeds, {})
  expect(raised.announcement).toBe('Alarm, Long bed: it rose')
  expect(raised.beds[0]?.alarms).toHaveLength(1)
  expect(raised.beds[1]?.alarms).toHaveLength(0)
  const grown = live(raised, { sentence: 'it rose further' })
  expect(grown.announcement).toBe(raised.announcement)
  expect(grown.beds[0]?.alarms.map((a) => a.sentence)).toEqual(['it rose further'])
  const seen = live(grown, { state: 'acknowledged', acknowledgedAt: 5 })
  expect(seen.beds[0]?.alarms.map((a) => a.state)).toEqual(['acknowledged'])
  const over = live(seen, { state: 'normal' })
  expect(over.beds[0]?.alarms).toEqual([])
  expect(over.alarmTick).toBe(4)
})

test('in other units or another language everything that was told is fetched again', () => {
  const fetched = (state: HubState, change: Partial<HubState['garden']>): HubState =>
    hubReducer(state, { type: 'fetched', at: 70, what: { garden: { ...state.garden, ...change } } })
  expect(fetched(withBeds, { name: 'Nettle Garden' }).alarmTick).toBe(withBeds.alarmTick)
  for (const change of [{ units: 'us' }, { language: 'es' }] as const) {
    const next = fetched(withBeds, change)
    expect(next.alarmTick).toBe(withBeds.alarmTick + 1)
    expect(next.bedTicks).toEqual({ 1: 1, 2: 1 })
    expect(next.journalTicks).toEqual({ 1: 1, 2: 1 })
    // Before the first answer there is nothing to fetch again.
    expect(fetched(EMPTY, change).alarmTick).toBe(0)
  }
})

test('a failed fetch keeps what is known and its age', () => {
  const problem = { type: 'about:blank', title: 'The hub cannot be reached', status: 0 }
  const failed = hubReducer(withBeds, { type: 'failed', problem })
  expect(failed.beds).toBe(withBeds.beds)
  expect(failed.heardAt).toBe(50)
  expect(hubReducer(failed, { type: 'fetched', at: 70, what: {} }).problem).toBeNull()
})

test('losing the connection keeps the time it was last heard', () => {
  const lost = hubReducer(withBeds, { type: 'connection', state: 'lost', at: 99 })
  expect([lost.connection, lost.heardAt]).toEqual(['lost', 50])
  const back = hubReducer(lost, { type: 'connection', state: 'open', at: 120 })
  expect([back.connection, back.heardAt]).toEqual(['open', 120])
})
