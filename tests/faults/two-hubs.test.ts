import { mkdirSync, symlinkSync } from 'node:fs'
import { join, relative } from 'node:path'
import { expect, onTestFinished, test } from 'vitest'
import { startHub } from '../support/hub-process.ts'
import { startMosquitto } from '../support/services/services.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'
import { auditFolder, expectWhole } from './support/audit.ts'
import { startInsistentProbes } from './support/insistent-probes.ts'
import { startIntake } from './support/intake-process.ts'
import { refusedStart } from './support/refused-start.ts'

/* Somebody starts a second hub: by hand beside the service, or a container beside the old one. */

test(
  'two hubs on one folder: the second refuses by name, whatever it calls the folder',
  { timeout: 60_000 },
  async () => {
    using folder = tempDir()
    const data = join(folder.path, 'data')
    mkdirSync(data)
    symlinkSync(data, join(folder.path, 'other-name'))
    const first = await startHub('start', data, { LOAMLINE_PROBE_LIMIT: '0' })
    onTestFinished(() => first[Symbol.asyncDispose]())
    const probes = await startInsistentProbes({
      url: `mqtt://127.0.0.1:${first.mqttPort}`,
      probes: 2,
    })
    onTestFinished(() => probes.close())
    for (const name of [data, join(folder.path, 'other-name'), relative(process.cwd(), data)]) {
      const before = probes.toldCount()
      const { code, output } = await refusedStart(name)
      expect(code, output).toBe(2)
      expect(output).toMatch(/HUB_STORE_LOCKED: Another hub is running on the data folder/)
      await until('the first goes on', () => probes.toldCount() > before + 20)
    }
    await probes.finish()
    // A hub that was killed holds nothing: the next one starts at once.
    await first.end('SIGKILL')
    const second = await startHub('start', data)
    expect(await second.end()).toBe(0)
    expectWhole(await auditFolder(data, probes), probes)
  },
)

test(
  'two hubs at one broker under one client id: each says what is the matter',
  { timeout: 60_000 },
  async () => {
    await using broker = await startMosquitto()
    using one = tempDir()
    using two = tempDir()
    const url = `mqtt://127.0.0.1:${broker.port}`
    await using first = startIntake(one.path, 'external', url)
    await first.whenUp()
    await using second = startIntake(two.path, 'external', url)
    const problem = await until(
      'one of them says so',
      () => [first.problem(), second.problem()].find((said) => said?.includes('CLIENT_ID')),
      30_000,
    )
    expect(problem).toMatch(/signed in|sign in/)
    expect(problem).toContain('loamline-hub')
  },
)
