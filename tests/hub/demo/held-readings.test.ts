import { expect, test } from 'vitest'
import { MINUTE, SECOND } from '#hub/model/clock.ts'
import { heldReadings, type HeldReadings } from '#hub/demo/held-readings.ts'
import type { Counted } from '#hub/simulator/wire-messages.ts'

const reading = (seq: number): Counted => ({
  boot: 1,
  seq,
  uptimeS: seq,
  flags: 0,
  values: { phmv: 1, m1: 1, st: 1, bat: 1 },
})
const fill = (held: HeldReadings, from: number, to: number, at: number): void => {
  for (let seq = from; seq < to; seq++) held.add(reading(seq), at)
}
const seqs = (rows: readonly Counted[]): number[] => rows.map((one) => one.seq)

test('a reading that went out is not due again before a minute without an answer', () => {
  const held = heldReadings(96)
  expect(held.dueAt()).toBeNull()
  fill(held, 0, 3, 0)
  expect(held.due(MINUTE - 1)).toEqual([])
  expect(seqs(held.due(MINUTE))).toEqual([0, 1, 2])
})

test('an acknowledgement puts the minute off and frees what it covers, no more', () => {
  const held = heldReadings(96)
  fill(held, 0, 5, 0)
  held.acknowledged(2, 50 * SECOND)
  expect(held.count()).toBe(2)
  expect(held.due(MINUTE)).toEqual([])
  expect(seqs(held.due(110 * SECOND))).toEqual([3, 4])
  held.acknowledged(2, 200 * SECOND)
  expect(held.dueAt(), 'one that says nothing new changes nothing').toBe(110 * SECOND)
})

test('after an outage batches follow each other, each after the answer to the one before', () => {
  const held = heldReadings(96)
  fill(held, 0, 12, 0)
  held.connected(1000)
  fill(held, 12, 13, 1100)
  expect(seqs(held.due(1100)), 'the reading just sent is not among them').toEqual(
    Array.from({ length: 12 }, (_, i) => i),
  )
  held.sent(4, 1100)
  expect(held.due(1500)).toEqual([])
  held.acknowledged(4, 1500)
  expect(held.due(2499)).toEqual([])
  expect(held.due(2500)[0]!.seq).toBe(5)
  held.sent(9, 2500)
  // An answer to something else does not end the wait for this batch.
  held.acknowledged(6, 2600)
  expect(held.due(4000)).toEqual([])
  held.acknowledged(9, 4000)
  expect(seqs(held.due(5000))).toEqual([10, 11])
  held.sent(11, 5000)
  held.acknowledged(12, 5100)
  expect(held.count()).toBe(0)
  expect(held.dueAt()).toBeNull()
})

test('without any answer the pauses grow up to a quarter of an hour or so', () => {
  const held = heldReadings(96)
  fill(held, 0, 2, 0)
  const pauses: number[] = []
  let at = 0
  for (let i = 0; i < 7; i++) {
    const due = held.dueAt()!
    pauses.push((due - at) / MINUTE)
    at = due
    expect(seqs(held.due(at))).toEqual([0, 1])
    held.sent(1, at)
  }
  expect(pauses).toEqual([1, 1, 2, 4, 8, 16, 16])
  held.connected(at + 5)
  expect(held.dueAt()).toBe(at + 5)
})

test('the newest readings are kept when the memory is full', () => {
  const held = heldReadings(4)
  fill(held, 0, 10, 0)
  held.connected(0)
  expect(seqs(held.due(0))).toEqual([6, 7, 8, 9])
})
