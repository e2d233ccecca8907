import { spawn } from 'node:child_process'
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, onTestFinished, test } from 'vitest'
import type { Report } from '#hub/conformance/report.ts'
import { startBroker } from '../../support/broker.ts'
import { freePort } from '../../support/ports.ts'
import { startSmallProbe } from '../../support/small-probe.ts'
import { tempDir } from '../../support/temp-dir.ts'
import { until } from '../../support/until.ts'

/** The command as a process of its own. */
function checkProbe(...args: readonly string[]) {
  const child = spawn('node_modules/.bin/node', ['hub/cli/loamline.mjs', 'check-probe', ...args], {
    stdio: ['ignore', 'pipe', 'pipe'],
  })
  onTestFinished(() => void child.kill('SIGKILL'))
  const said = { out: '', err: '' }
  child.stdout.on('data', (chunk: Buffer) => (said.out += chunk.toString()))
  child.stderr.on('data', (chunk: Buffer) => (said.err += chunk.toString()))
  const code = new Promise<number | null>((resolve) => child.once('close', resolve))
  return { child, said, code }
}

test('ended early it tells what it saw, line by line and in a file, and what was not met decides the code', async () => {
  using dir = tempDir()
  const broker = await startBroker()
  onTestFinished(() => broker.close())
  const port = await freePort()
  const file = join(dir.path, 'report.json')
  const { child, said, code } = checkProbe(
    ...['--probe', 'bed3a', '--listen', `127.0.0.1:${port}`, '--broker', broker.url],
    ...['--quick', '--report', file],
  )
  await until('it listens', () => said.err.includes(`Point bed3a at port ${port}`), 20_000)
  const probe = startSmallProbe({ port, id: 'bed3a', mistake: 'retains readings' })
  onTestFinished(() => probe.stop())
  await until('settings are tried', () => said.err.includes('settings and commands'), 20_000)
  child.kill('SIGINT')
  expect(await code, said.err).toBe(1)
  const lines = said.out.split('\n').filter((line) => line.startsWith('LM-'))
  expect(lines).toHaveLength(35)
  expect(said.out).toMatch(/LM-09 {2}not met .*: lm1\/bed3a\/up\/r \{"b":5,"n":0/)
  const report = JSON.parse(readFileSync(file, 'utf8')) as Report
  expect(report.passed).toBe(false)
  expect(report.requirements.find(({ id }) => id === 'LM-09')?.packet?.topic).toBe('lm1/bed3a/up/r')
}, 60_000)

test.each([
  [[], '--probe: expected the id of a probe'],
  [['--probe', 'Bed'], "got 'Bed'"],
  [['--probe', 'hub'], "got 'hub'"],
  [['--probe', 'bed3a', '--listen', 'here'], "got 'here'"],
  [['--probe', 'bed3a', '--listen', '70000'], "got '70000'"],
  [
    ['--probe', 'bed3a', '--broker', 'broker.local'],
    '--broker: expected an address such as mqtt://',
  ],
  [['--probe', 'bed3a', '--outage', '-1'], 'argument'],
  [['--probe', 'bed3a', '--outage=few'], "got 'few'"],
  [['--probe', 'bed3a', '--soak', '24'], "got '24'"],
])(
  '%j ends with code 2 and says what was expected',
  async (args, message) => {
    const { said, code } = checkProbe(...args)
    expect(await code).toBe(2)
    expect(said.err).toContain(message)
  },
  30_000,
)
