import { expect, test } from 'vitest'
import { accountView } from '#hub/api/views/account.ts'
import type { BootAccount } from '#hub/model/reading.ts'

const boot = (some: Partial<BootAccount> = {}): BootAccount => ({
  probe: 'row1',
  boot: 1,
  received: 10,
  late: 0,
  duplicates: 0,
  missing: 0,
  lost: 0,
  conflicting: 0,
  placed: { arrival: 10, device: 0, anchors: 0, bounded: 0, file: 0 },
  firstAt: 1000.4,
  lastAt: 2000,
  ...some,
})
const said = (...boots: readonly BootAccount[]): string =>
  accountView(boots, []).sentences.join('\n')

test('boots are shown one by one and add up', () => {
  const view = accountView(
    [
      boot({ boot: 2, missing: 1, lost: 2, duplicates: 3, conflicting: 4, late: 5 }),
      boot({ placed: { arrival: 7, device: 1, anchors: 1, bounded: 1, file: 0 } }),
    ],
    [],
  )
  expect(view.total).toEqual({
    received: 20,
    late: 5,
    duplicates: 3,
    missing: 1,
    writtenOff: 2,
    conflicting: 4,
    placed: { arrival: 17, device: 1, anchors: 1, bounded: 1, file: 0 },
  })
  expect(view.boots.map(({ boot: id, firstAt }) => [id, firstAt])).toEqual([
    [2, 1000],
    [1, 1000],
  ])
})

test('a probe that restarts all the time has its newest hundred boots shown, and all counted', () => {
  const view = accountView(
    Array.from({ length: 300 }, (_, i) => boot({ boot: 300 - i })),
    [],
  )
  expect(view.boots).toHaveLength(100)
  expect(view.total.received).toBe(3000)
})

test('without losses it says so, and what cannot be known', () => {
  expect(said()).toContain('No reading has come yet')
  expect(said(boot())).toMatch(/^Nothing is lost.*cannot be known/)
})

test('what is absent in the present boot may still come, what earlier boots miss probably not', () => {
  expect(said(boot({ boot: 2, missing: 1 }))).toMatch(/^1 reading of the present boot was/)
  const both = said(boot({ boot: 2, missing: 2 }), boot({ missing: 3 }))
  expect(both).toContain('2 readings of the present boot were measured')
  expect(both).toContain('3 readings of earlier boots did not come')
})

test('a boot id used twice comes first and is called a fault', () => {
  const text = said(boot({ boot: 7, conflicting: 1, lost: 4 }))
  expect(text).toMatch(/^1 reading came under a number that was taken.*\(boot 7\).*fault/)
  expect(text).toContain('4 readings are lost for good')
  expect(text).not.toContain('Nothing is lost')
})

test('readings without a time are counted and marked', () => {
  expect(
    said(boot({ placed: { arrival: 9, device: 0, anchors: 0, bounded: 1, file: 0 } })),
  ).toContain('Of 1 reading nobody can tell when it was measured')
})
