import { execFile } from 'node:child_process'
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { promisify } from 'node:util'
import { expect, onTestFinished, test } from 'vitest'
import { startBroker } from '../../support/broker.ts'
import { tempDir } from '../../support/temp-dir.ts'

const run = promisify(execFile)
const probes = (...args: readonly string[]) =>
  run('node_modules/.bin/node', ['hub/cli/loamline.mjs', 'probes', ...args])

test('probes run for the time asked for and tell how they fared', async () => {
  const broker = await startBroker()
  onTestFinished(() => broker.close())
  const { stdout } = await probes(
    ...['--broker', broker.url, '--count', '2', '--every', '1s', '--for', '4s', '--seed', '9'],
  )
  expect(stdout).toContain('2 probes publish to')
  // Nobody acknowledges: there is a broker and no hub.
  expect(stdout).toMatch(/2 connected; ([6-9]|1\d) readings taken, \1 not acknowledged by a hub/)
}, 30_000)

test('help lists every option and every fault', async () => {
  const { stdout } = await probes('--help')
  for (const word of ['--broker', '--lose', '--clock-error', 'outage', 'no-power', 'drift']) {
    expect(stdout).toContain(word)
  }
})

test.each([
  [['--count', '0'], "--count: expected a whole number from 1 to 1000, got '0'"],
  [['--count', 'many'], "got 'many'"],
  [['--broker', 'broker.local'], '--broker: expected an address such as mqtt://'],
  [['--every', '10'], "--every: expected a time such as 90s, 5m, 2h or 1d, got '10'"],
  [['--prefix', 'Sim'], '--prefix: expected 2 to 19 lower-case letters'],
  [['--fault', 'fire'], 'the kinds are outage'],
  [['--lose', '1'], '--lose: expected a number from 0 to 0.9'],
  [['--what'], "Unknown option '--what'"],
])('%j ends with code 2 and one line', async (args, message) => {
  const failed = await probes(...args).catch((error: unknown) => error)
  const { code, stderr } = failed as { code: number; stderr: string }
  expect(code).toBe(2)
  expect(stderr).toContain(message)
  expect(stderr.trim().split('\n').length).toBeLessThanOrEqual(2)
})

test('a file of passwords that is wrong is not repeated', async () => {
  using dir = tempDir()
  const file = join(dir.path, 'passwords')
  writeFileSync(file, 'sim1:secret-one\nsecret-two\n')
  const failed = await probes('--passwords', file).catch((error: unknown) => error)
  const { code, stderr } = failed as { code: number; stderr: string }
  expect(code).toBe(2)
  expect(stderr).toContain('in line 2')
  expect(stderr).not.toContain('secret')
})
