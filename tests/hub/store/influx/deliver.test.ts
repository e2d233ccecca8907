import { expect, test } from 'vitest'
import { deliver } from '#hub/store/influx/deliver.ts'

/** A server that takes every line but some, and says it the way 1.x does. */
function server(bad: ReadonlySet<string>, says = (n: number) => `partial write: no dropped=${n}`) {
  const kept = new Set<string>()
  let asked = 0
  return {
    kept,
    asked: () => asked,
    async write(lines: readonly string[] | string) {
      asked++
      const all = typeof lines === 'string' ? lines.split('\n') : lines
      const wrong = all.filter((line) => bad.has(line))
      for (const line of all) if (!bad.has(line)) kept.add(line)
      return { refused: wrong.length === 0 ? null : says(wrong.length), partly: true }
    },
  }
}
const rows = Array.from({ length: 500 }, (_, i) => `line ${i}`)

test('what is taken is taken at once', async () => {
  const there = server(new Set())
  expect(await deliver(there, rows)).toEqual([])
  expect(there.asked()).toBe(1)
})

test('lines that are not taken are found one by one, all others are kept', async () => {
  const there = server(new Set(['line 3', 'line 250', 'line 499']))
  const refused = await deliver(there, rows)
  expect(refused.map(({ line }) => line)).toEqual(['line 3', 'line 250', 'line 499'])
  expect(refused[0]!.why).toContain('dropped=1')
  expect(there.kept.size).toBe(497)
})

test('a server that takes none of them is not asked about each', async () => {
  const there = server(new Set(rows))
  expect(await deliver(there, rows)).toHaveLength(500)
  expect(there.asked()).toBe(1)
})

test('a server that refuses all for the sake of one gets the others', async () => {
  const kept = new Set<string>()
  const write = async (lines: readonly string[] | string) => {
    const all = lines as readonly string[]
    if (all.includes('line 77')) return { refused: 'unable to parse', partly: false }
    for (const line of all) kept.add(line)
    return { refused: null, partly: true }
  }
  expect(await deliver({ write }, rows)).toEqual([{ line: 'line 77', why: 'unable to parse' }])
  expect(kept.size).toBe(499)
})

test('a server that goes away in the middle says so, and nothing counts as refused', async () => {
  let asked = 0
  const write = async () => {
    if (++asked === 3) throw new Error('gone')
    return { refused: 'partial write dropped=1', partly: true }
  }
  await expect(deliver({ write }, rows)).rejects.toThrow('gone')
})
