import { expect, test } from 'vitest'
import { progressTo } from '#hub/cli/progress.ts'

function screen(isTTY: boolean) {
  const written: string[] = []
  return { isTTY, written, write: (text: string) => written.push(text) }
}

test('on a terminal one line changes, with what is left once that can be told', () => {
  const to = screen(true)
  let now = 0
  const progress = progressTo('copied', to, () => now)
  for (let step = 0; step <= 100; step++) {
    now = step * 100
    progress.tell(step / 100)
  }
  progress.clear()
  expect(to.written[0]).toBe('\r\u001B[K0 % copied')
  expect(to.written).toContain('\r\u001B[K40 % copied, about 6 s more')
  // Ten seconds, a word every fifth of one.
  expect(to.written.length).toBeLessThan(60)
  expect(to.written.at(-1)).toBe('\r\u001B[K')
  expect(to.written.join('')).not.toContain('\n')
})

test('elsewhere a line for every tenth, each once', () => {
  const to = screen(false)
  const progress = progressTo('copied', to, () => 0)
  for (const share of [0.05, 0.1, 0.11, 0.35, 0.99, 1]) progress.tell(share)
  progress.clear()
  expect(to.written).toEqual(['10 % copied\n', '30 % copied\n', '90 % copied\n', '100 % copied\n'])
})
