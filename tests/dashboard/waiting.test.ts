import { describe, expect, test } from 'vitest'
import type { Entry } from '../../hub/api/schemas/journal.ts'
import { ApiError } from '../../dashboard/src/ask.ts'
import { createWaiting } from '../../dashboard/src/waiting.ts'
import type { WaitingQueue } from '../../dashboard/src/waiting.ts'
import { memoryWaitingStore } from '../../dashboard/src/waiting-store.ts'
import type { Waiting, WaitingStore } from '../../dashboard/src/waiting-store.ts'

const problemOf = (status: number): ApiError =>
  new ApiError({ type: 'about:blank', title: `status ${status}`, status })

/** A hub that keeps to the rule of keys, on a line that can fail before or after it has stored. */
function invented() {
  const store: WaitingStore = memoryWaitingStore()
  const entries = new Map<string, Entry>()
  const removed: number[] = []
  const shown: (readonly Waiting[])[] = []
  let line: 'up' | 'down' | 'answer lost' | number = 'up'
  let count = 0
  /** Runs once, when the hub has what says this and has not answered yet. */
  let during: { readonly text: string; readonly run: () => Promise<unknown> } | null = null
  const queue: WaitingQueue = createWaiting({
    store,
    send: async (item) => {
      const text = item.what.body.text ?? ''
      if (line === 'down') throw problemOf(0)
      if (typeof line !== 'number') keep(item, text)
      const meanwhile = during?.text === text ? during.run : null
      if (meanwhile !== null) during = null
      await meanwhile?.()
      if (typeof line === 'number') throw problemOf(line)
      if (line === 'answer lost') throw problemOf(0)
      return entries.get(item.id)!
    },
    remove: async ({ id }) => {
      if (line !== 'up') throw problemOf(0)
      removed.push(id)
    },
    newId: () => `id ${++count}`,
    now: () => 1000 + count,
    onChange: (items) => shown.push(items),
  })
  function keep(item: Waiting, text: string): void {
    const stored = entries.get(item.id) ?? {
      id: entries.size + 1,
      bedId: item.bedId,
      at: item.what.body.at,
      kind: 'note',
      material: null,
      amountG: null,
      waterL: null,
      probe: null,
      ph: null,
      method: null,
      text,
    }
    entries.set(item.id, stored)
  }
  const note = (text: string): Waiting['what'] => ({
    kind: 'entry',
    body: { kind: 'note', at: 5, text },
  })
  return {
    queue,
    entries: () => [...entries.values()].map(({ text }) => text),
    /** What the hub has of it in the end. */
    left: () =>
      [...entries.values()].filter(({ id }) => !removed.includes(id)).map(({ text }) => text),
    removed,
    shown,
    note,
    while: (text: string, run: () => Promise<unknown>) => {
      during = { text, run }
    },
    setLine: (is: typeof line) => {
      line = is
    },
  }
}

describe('what is written down without the hub', () => {
  test('is sent at once when the hub is there', async () => {
    const { queue, entries, note } = invented()
    expect(await queue.add(1, note('watered'))).toBe('stored')
    expect(entries()).toEqual(['watered'])
    expect(await queue.items()).toEqual([])
  })

  test('waits, and is sent in its order when the hub is back', async () => {
    const { queue, entries, note, setLine, shown } = invented()
    setLine('down')
    for (const text of ['one', 'two', 'three']) {
      expect(await queue.add(1, note(text))).toBe('waiting')
    }
    expect(shown.at(-1)).toHaveLength(3)
    await queue.sendAll()
    expect(await queue.items()).toHaveLength(3)
    setLine('up')
    await queue.sendAll()
    expect(entries()).toEqual(['one', 'two', 'three'])
    expect(await queue.items()).toEqual([])
    expect(shown.at(-1)).toEqual([])
  })

  test('is stored once although its answer was lost', async () => {
    const { queue, entries, note, setLine } = invented()
    setLine('answer lost')
    expect(await queue.add(1, note('limed'))).toBe('waiting')
    await queue.sendAll()
    setLine('up')
    await queue.sendAll()
    expect(entries()).toEqual(['limed'])
    expect(await queue.items()).toEqual([])
  })

  test('goes again from the hub when it was taken back after its answer was lost', async () => {
    const { queue, removed, note, setLine } = invented()
    setLine('answer lost')
    await queue.add(1, note('limed'))
    const [item] = await queue.items()
    setLine('down')
    await queue.takeBack(item!)
    expect(await queue.items()).toEqual([])
    await queue.sendAll()
    expect(removed).toEqual([])
    setLine('up')
    await queue.sendAll()
    expect(removed).toEqual([1])
    await queue.sendAll()
    expect(removed).toEqual([1])
  })

  test('that the hub refuses at once is not kept: the form says why', async () => {
    const { queue, note, setLine } = invented()
    setLine(400)
    await expect(queue.add(1, note(''))).rejects.toThrow('status 400')
    expect(await queue.items()).toEqual([])
  })

  test.each([401, 429])('that comes to be sent when the hub says %i is kept', async (status) => {
    const { queue, left, note, shown, setLine } = invented()
    setLine(status)
    expect(await queue.add(1, note('written when the session had run out'))).toBe('waiting')
    expect(shown.at(-1)).toMatchObject([{ problem: null }])
    setLine('up')
    await queue.sendAll()
    expect(left()).toEqual(['written when the session had run out'])
    expect(await queue.items()).toEqual([])
  })

  test('and is refused later stays with the reason, the others go', async () => {
    const { queue, entries, note, setLine } = invented()
    setLine('down')
    await queue.add(1, note('about a bed that is gone'))
    setLine(404)
    await queue.sendAll()
    const [refused] = await queue.items()
    expect(refused?.problem?.status).toBe(404)
    setLine('down')
    await queue.add(2, note('good'))
    setLine('up')
    await queue.takeBack(refused!)
    await queue.sendAll()
    expect(entries()).toEqual(['good'])
  })

  test.each([401, 429, 500, 503])(
    'waits on, without blame, when the hub says %i',
    async (status) => {
      const { queue, note, setLine } = invented()
      setLine('down')
      await queue.add(1, note('later'))
      setLine(status)
      await queue.sendAll()
      expect(await queue.items()).toMatchObject([{ problem: null }])
    },
  )

  test('is sent once however often sending is asked for', async () => {
    const { queue, entries, note, setLine } = invented()
    setLine('down')
    await queue.add(1, note('one'))
    setLine('up')
    await Promise.all([queue.sendAll(), queue.sendAll(), queue.sendAll()])
    expect(entries()).toEqual(['one'])
    expect(await queue.items()).toEqual([])
  })
})

describe('what is taken back or replaced while it is being sent', () => {
  test('is not sent when its turn had not come and the hub cannot have it', async () => {
    const { queue, entries, note, setLine, while: meanwhile } = invented()
    setLine('down')
    await queue.add(1, note('first'))
    await queue.add(1, note('refused'))
    setLine(400)
    await queue.sendAll()
    const [, refused] = await queue.items()
    setLine('up')
    meanwhile('first', () => queue.takeBack(refused!))
    await queue.sendAll()
    expect(entries()).toEqual(['first'])
    expect(await queue.items()).toEqual([])
  })

  test.each(['first', 'second'])('goes again from the hub: during the %s', async (text) => {
    const { queue, left, note, setLine, while: meanwhile } = invented()
    setLine('down')
    await queue.add(1, note('first'))
    await queue.add(1, note('second'))
    const [, second] = await queue.items()
    setLine('up')
    meanwhile(text, () => queue.takeBack(second!))
    await queue.sendAll()
    expect(left()).toEqual(['first'])
    expect(await queue.items()).toEqual([])
  })

  test('goes again from the hub when it is being sent for the first time', async () => {
    const { queue, left, note, while: meanwhile } = invented()
    meanwhile('limed', async () => queue.takeBack((await queue.items())[0]!))
    await queue.add(1, note('limed'))
    await queue.sendAll()
    expect(left()).toEqual([])
    expect(await queue.items()).toEqual([])
  })

  test('does not come back when the hub refuses it', async () => {
    const { queue, note, setLine, while: meanwhile } = invented()
    setLine('down')
    await queue.add(1, note('limed'))
    const [item] = await queue.items()
    setLine(404)
    meanwhile('limed', () => queue.takeBack(item!))
    await queue.sendAll()
    expect(await queue.items()).toEqual([])
  })

  test.each(['while it is sent', 'after it was sent'])('is stored once: %s', async (when) => {
    const { queue, left, note, setLine, while: meanwhile } = invented()
    setLine('down')
    await queue.add(1, note('limed with 50 g'))
    const [old] = await queue.items()
    const replace = async (): Promise<void> => {
      await queue.add(1, note('limed with 500 g'))
      await queue.takeBack(old!)
    }
    setLine('up')
    if (when === 'while it is sent') meanwhile('limed with 50 g', replace)
    await queue.sendAll()
    if (when === 'after it was sent') await replace()
    await queue.sendAll()
    expect(left()).toEqual(['limed with 500 g'])
    expect(await queue.items()).toEqual([])
  })
})

describe('one thing of the store', () => {
  test('is changed as it stands now, or dropped, and never made', async () => {
    const store = memoryWaitingStore()
    const item: Waiting = {
      id: 'a',
      bedId: 1,
      what: { kind: 'entry', body: { kind: 'note', at: 5, text: 'watered' } },
      keptAt: 1,
      perhapsSent: false,
      takenBack: false,
      problem: null,
    }
    expect(await store.change('a', (now) => now)).toBeNull()
    await store.put(item)
    await Promise.all([
      store.change('a', (now) => ({ ...now, perhapsSent: true })),
      store.change('a', (now) => ({ ...now, takenBack: true })),
    ])
    expect(await store.all()).toEqual([{ ...item, perhapsSent: true, takenBack: true }])
    expect(await store.change('a', () => null)).toBeNull()
    expect(await store.all()).toEqual([])
  })
})
