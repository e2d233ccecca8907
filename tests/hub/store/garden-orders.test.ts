import { expect, test } from 'vitest'
import { openStores } from '#hub/store/open.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

const AT = 1_780_000_000_500
const ID = 1_780_000_000
const settings = (intervalS: number) =>
  ({ kind: 'settings', settings: { intervalS, samples: null, settleS: 0 } }) as const
const command = { kind: 'command', what: 'ident', expiresAt: AT + 1000 } as const

test('every order has a number of its own, never below the seconds since 1970, and comes back as stored', async () => {
  using folder = tempDir()
  const stores = await openStores(folder.path)
  try {
    const { garden } = stores
    const resend = {
      kind: 'resend',
      boot: 4_294_967_294,
      from: 7,
      count: 255,
      expiresAt: AT,
    } as const
    expect((await garden.addOrder('row1', settings(300), AT)).id).toBe(ID)
    expect((await garden.addOrder('row2', command, AT)).id).toBe(ID + 1)
    // The clock was set back.
    const third = await garden.addOrder('row1', resend, AT - 1e9)
    expect(third).toEqual({
      ...resend,
      id: ID + 2,
      probe: 'row1',
      madeAt: AT - 1e9,
      sentAt: null,
      times: 0,
      answer: null,
    })
    expect((await garden.orders('row1', 10)).map(({ id }) => id)).toEqual([ID + 2, ID])
    expect((await garden.orders('row1', 1)).map(({ id }) => id)).toEqual([ID + 2])
    expect(await garden.orderSent(ID + 1, AT + 5)).toMatchObject({ sentAt: AT + 5, times: 1 })
    expect((await garden.openOrders(AT)).map(({ id }) => id)).toEqual([ID, ID + 1])
    expect((await garden.openOrders(AT + 1000)).map(({ id }) => id)).toEqual([ID])
  } finally {
    await stores.close()
  }
})

test('an order is answered once, by its own probe', async () => {
  using folder = tempDir()
  const stores = await openStores(folder.path)
  try {
    const { garden } = stores
    await garden.addOrder('row1', command, AT)
    const answer = { at: AT + 9, ok: false, reason: 'busy' }
    expect(await garden.answerOrder('row2', ID, answer)).toBeNull()
    expect(await garden.answerOrder('row1', ID, answer)).toMatchObject({ answer })
    expect(await garden.answerOrder('row1', ID, { ...answer, ok: true })).toBeNull()
    expect(await garden.openOrders(AT)).toEqual([])
  } finally {
    await stores.close()
  }
})

test('the newest settings that were not refused stand', async () => {
  using folder = tempDir()
  const stores = await openStores(folder.path)
  try {
    const { garden } = stores
    const ids = async (probe?: string) => (await garden.standingSettings(probe)).map(({ id }) => id)
    await garden.addOrder('row1', settings(300), AT)
    await garden.addOrder('row1', settings(60), AT)
    await garden.addOrder('row2', settings(90), AT)
    expect(await ids()).toEqual([ID + 1, ID + 2])
    await garden.answerOrder('row1', ID + 1, { at: AT, ok: false, reason: 'iv' })
    expect(await ids('row1')).toEqual([ID])
    await garden.answerOrder('row2', ID + 2, { at: AT, ok: false, reason: null })
    expect(await ids('row2')).toEqual([])
    expect(await ids()).toEqual([ID])
  } finally {
    await stores.close()
  }
})

test('a probe that is asked for ever keeps a bounded list, its settings and the highest number', async () => {
  using folder = tempDir()
  const stores = await openStores(folder.path)
  try {
    const { garden } = stores
    await garden.addOrder('row1', settings(300), AT)
    for (let i = 0; i < 520; i++) await garden.addOrder('row1', command, AT)
    const kept = await garden.orders('row1', 1000)
    expect(kept).toHaveLength(501)
    expect(kept[0]?.id).toBe(ID + 520)
    expect(kept.at(-1)?.kind).toBe('settings')
  } finally {
    await stores.close()
  }
})
