import fc from 'fast-check'
import { expect, test } from 'vitest'
import { createLedger } from '#hub/ingest/ledger.ts'

const empty = { top: -1, lost: 0, ahead: [] }

test('the top waits at a hole and goes on when it is filled', () => {
  const ledger = createLedger(empty)
  for (const seq of [0, 1, 3, 4]) ledger.take(seq)
  expect(ledger.top).toBe(1)
  ledger.take(2)
  expect(ledger.top).toBe(4)
  expect(ledger.lost).toBe(0)
})

test('only what a batch no longer holds is written off', () => {
  const ledger = createLedger({ top: 1, lost: 0, ahead: [4, 5, 9] })
  ledger.startAt(7)
  expect(ledger.top).toBe(6)
  // 2, 3 and 6 are gone; 4 and 5 had come.
  expect(ledger.lost).toBe(3)
  ledger.take(7)
  ledger.take(8)
  expect(ledger.top).toBe(9)
})

test('what is missing now is counted, and its first run is named', () => {
  const ledger = createLedger({ top: 1, lost: 0, ahead: [4, 5, 9] })
  expect(ledger).toMatchObject({ missing: 5, highest: 9, hole: { from: 2, count: 2 } })
  ledger.take(3)
  ledger.take(3)
  expect(ledger).toMatchObject({ missing: 4, hole: { from: 2, count: 1 } })
  ledger.startAt(8)
  expect(ledger).toMatchObject({ missing: 1, lost: 3, hole: { from: 8, count: 1 } })
  ledger.take(8)
  expect(ledger).toMatchObject({ missing: 0, highest: 9, hole: null })
})

test('a batch that starts at or below the next number writes nothing off', () => {
  const ledger = createLedger({ top: 5, lost: 2, ahead: [] })
  ledger.startAt(6)
  ledger.startAt(3)
  expect([ledger.top, ledger.lost]).toEqual([5, 2])
})

/** The same by a plain set: slow, and easy to believe. */
function bySet(
  steps: readonly (readonly ['take' | 'start', number])[],
): readonly [number, number, number, number | null] {
  const have = new Set<number>()
  let top = -1
  let lost = 0
  for (const [what, seq] of steps) {
    if (what === 'take') have.add(seq)
    else
      for (; top < seq - 1; top++) {
        if (!have.has(top + 1)) lost++
      }
    while (have.has(top + 1)) top++
  }
  const highest = Math.max(top, ...have)
  const absent = Array.from({ length: highest - top }, (_, i) => top + 1 + i).filter(
    (seq) => !have.has(seq),
  )
  return [top, lost, absent.length, absent[0] ?? null]
}

test('runs keep the same books as a plain set, whatever the order', () => {
  const step = fc.tuple(
    fc.constantFrom('take', 'take', 'take', 'start') as fc.Arbitrary<'take' | 'start'>,
    fc.nat(40),
  )
  fc.assert(
    fc.property(fc.array(step, { maxLength: 60 }), (steps) => {
      const ledger = createLedger(empty)
      for (const [what, seq] of steps) {
        if (what === 'take') ledger.take(seq)
        else ledger.startAt(seq)
      }
      const { top, lost, missing, hole } = ledger
      expect([top, lost, missing, hole?.from ?? null]).toEqual(bySet(steps))
    }),
    { numRuns: 3000, seed: 1 },
  )
})

test('taken up from memory it goes on as if it had never stopped', () => {
  fc.assert(
    fc.property(fc.uniqueArray(fc.nat(60)), fc.uniqueArray(fc.nat(60)), (before, after) => {
      const whole = createLedger(empty)
      for (const seq of [...before, ...after]) whole.take(seq)
      const first = createLedger(empty)
      for (const seq of before) first.take(seq)
      const ahead = before.filter((seq) => seq > first.top).sort((a, b) => a - b)
      const second = createLedger({ top: first.top, lost: first.lost, ahead })
      for (const seq of after) second.take(seq)
      expect(second.top).toBe(whole.top)
    }),
    { numRuns: 1000, seed: 2 },
  )
})

test('a probe that never fills a hole costs no memory worth speaking of, and no time', () => {
  const ledger = createLedger(empty)
  for (let seq = 1; seq < 300_000; seq++) ledger.take(seq)
  expect(ledger.top).toBe(-1)
  ledger.take(0)
  expect(ledger.top).toBe(299_999)
})
