import { describe, expect, test } from 'vitest'
import type { Entry } from '../../hub/api/schemas/journal.ts'
import { ApiError } from '../../dashboard/src/api.ts'
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
  const queue: WaitingQueue = createWaiting({
    store,
    send: async (item) => {
      if (line === 'down') throw problemOf(0)
      if (typeof line === 'number') throw problemOf(line)
      const text = item.what.body.text ?? ''
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
      if (line === 'answer lost') throw problemOf(0)
      return stored
    },
    remove: async ({ id }) => {
      if (line !== 'up') throw problemOf(0)
      removed.push(id)
    },
    newId: () => `id ${++count}`,
    now: () => 1000 + count,
    onChange: (items) => shown.push(items),
  })
  const note = (text: string): Waiting['what'] => ({
    kind: 'entry',
    body: { kind: 'note', at: 5, text },
  })
  return {
    queue,
    entries: () => [...entries.values()].map(({ text }) => text),
    removed,
    shown,
    note,
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
    await queue.takeBack(item!.id)
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
    await queue.takeBack(refused!.id)
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
