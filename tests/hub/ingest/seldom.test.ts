import { expect, test } from 'vitest'
import { seldom } from '#hub/ingest/seldom.ts'

test('so many lines a minute are said, the rest is counted and told afterwards', () => {
  let now = 1_000_000
  const written: string[] = []
  const say = seldom(
    (text) => written.push(text),
    () => now,
  )
  for (let i = 0; i < 5000; i++) say(`line ${i}`)
  expect(written).toHaveLength(60)
  now += 60_000
  say('later')
  expect(written.slice(60)).toEqual(['4940 more lines like the last ones were left out', 'later'])
})

test('a clock that is set back hushes nothing for long', () => {
  let now = 1_000_000
  const written: string[] = []
  const say = seldom(
    (text) => written.push(text),
    () => now,
  )
  for (let i = 0; i < 100; i++) say('x')
  now -= 500_000
  say('after')
  expect(written.at(-1)).toBe('after')
})
