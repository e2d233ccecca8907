import { afterEach, expect, test, vi } from 'vitest'
import { openLog } from '#hub/cli/log.ts'
import { oneLine, plainText, quietJson } from '#hub/cli/plain-text.ts'

afterEach(() => {
  vi.restoreAllMocks()
})

test('at a terminal the log is sentences, with the stack of a mistake of ours', () => {
  const lines: string[] = []
  vi.spyOn(process.stdout, 'write').mockImplementation((line) => {
    lines.push(String(line))
    return true
  })
  const log = openLog('info', true)
  log.info('the broker is up')
  log.warn({ bed: 'Long bed' }, 'Long bed: pH rose.')
  log.fatal({ err: new TypeError('ours') }, 'a mistake')
  log.debug('not said')
  expect(lines).toHaveLength(3)
  expect(lines[0]).toMatch(/^\d\d:\d\d:\d\d {2}the broker is up\n$/)
  expect(lines[1]).toMatch(/NOTE: Long bed: pH rose\.\n$/)
  expect(lines[2]).toMatch(/ERROR: a mistake\n {10}TypeError: ours\n/)
})

/** What somebody may send as a topic, a name or a text. */
const FORGED =
  'fern1\r\n12:00:00  NOTE: the owner has signed in\u001b[2J\u001b]0;planted\u0007\u009b31m\u202egnp\u2028\u0000'

test('no text of others begins a line of its own, moves the cursor or turns the writing', () => {
  const written: string[] = []
  vi.spyOn(process.stdout, 'write').mockImplementation((line) => {
    written.push(String(line))
    return true
  })
  openLog('info', true).warn(`${FORGED}: message kept in quarantine`)
  expect(written).toHaveLength(1)
  const [first, second, ...more] = written[0]!.trimEnd().split('\n')
  expect(first).toContain('fern1\\u000d')
  expect(second).toMatch(/^ {10}12:00:00 /)
  expect(more).toEqual([])
  // oxlint-disable-next-line no-control-regex -- those are looked for
  expect(written[0]!.replaceAll('\n', '')).not.toMatch(/[\u0000-\u001f\u007f-\u009f\u2028\u202e]/)
})

test('a line of JSON stays one line and the same JSON, and is quiet when it is looked at', () => {
  const line = JSON.stringify({ level: 40, msg: FORGED })
  const quiet = quietJson(`${line}\n`)
  expect(quiet.endsWith('\n')).toBe(true)
  expect(JSON.parse(quiet)).toEqual(JSON.parse(line))
  // oxlint-disable-next-line no-control-regex -- those are looked for
  expect(quiet.slice(0, -1)).not.toMatch(/[\u0000-\u001f\u007f-\u009f\u2028\u202e]/)
})

test('a text without end is cut', () => {
  expect(oneLine('('.repeat(100_000)).length).toBeLessThan(10_000)
  expect(plainText('('.repeat(100_000)).length).toBeLessThan(10_000)
})
