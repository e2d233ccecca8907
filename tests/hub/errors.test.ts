import { readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { ERROR_CODES } from '#hub/errors.ts'

test('the table of error codes in DEVELOPERS.md is the table in the code', () => {
  const text = readFileSync('DEVELOPERS.md', 'utf8')
  const rows = Object.fromEntries(
    Array.from(text.matchAll(/^\| `(HUB_[A-Z_]+)` \| (.+?) \|$/gm), ([, code, meaning]) => [
      code,
      meaning,
    ]),
  )
  expect(rows).toEqual(ERROR_CODES)
})
