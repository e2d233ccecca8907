import { afterEach, expect, test, vi } from 'vitest'
import { openLog } from '#hub/cli/log.ts'

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
  expect(lines[2]).toMatch(/ERROR: a mistake\nTypeError: ours\n/)
})
