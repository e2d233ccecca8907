import { readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { needFor, ROWS } from '#hub/api/access-table.ts'

/** What is told of the right `own`, for each part of the interface that it opens; null: nothing to tell. */
const OWN: Readonly<Record<string, RegExp | null>> = {
  '/api/backup.tar': /make backups/,
  '/api/storage': /thin out old readings for good/,
  '/api/damaged': /settle damaged readings/,
  '/api/people': /manage people/,
  '/api/sessions': /sessions/,
  '/api/tokens': /tokens/,
  '/api/shares': /shared beds/,
  '/api/feed-address': /secret addresses/,
  '/api/message-routes': /routes for messages/,
  '/api/messages': /routes for messages/,
  '/api/push-key': /routes for messages/,
  // Refused, whoever asks.
  '/sta/*': null,
}
/** What one would not look for behind `change`. */
const CHANGE: Readonly<Record<string, RegExp>> = {
  'POST /api/import/store': /imports? readings/,
  'POST /api/probes/:id/commands': /restarts? probes/,
  'POST /api/probes/:id/password': /makes? their passwords/,
  'POST /api/alarms/:id/acknowledge': /alarms/,
}

const page = readFileSync('dashboard/src/parts/people/tokens.tsx', 'utf8')
const readme = /Programs get tokens[^\n]*/.exec(readFileSync('README.md', 'utf8'))?.[0] ?? ''

test('what a token may do is told whole, where it is made and in the README', () => {
  const rows = ROWS.map((row) => {
    const [method = '', route = ''] = row.split(' ')
    return { row, route, need: needFor(method, route) }
  })
  const parts = rows.flatMap(({ route, need }) =>
    need === 'own' ? [/^\/(api\/[^/]+|sta\/\*)/.exec(route)?.[0] ?? route] : [],
  )
  expect(new Set(parts)).toEqual(new Set(Object.keys(OWN)))
  for (const words of Object.values(OWN)) {
    if (words === null) continue
    expect(page).toMatch(words)
    expect(readme).toMatch(words)
  }
  for (const [row, words] of Object.entries(CHANGE)) {
    expect(rows.find((one) => one.row === row)?.need).toBe('change')
    expect(page).toMatch(words)
    expect(readme).toMatch(words)
  }
})
