import { expect, onTestFinished, test } from 'vitest'
import { startHub } from '../support/hub-process.ts'
import { seededRandom } from '../support/random.ts'
import { faultProxy } from '../support/services/fault-proxy.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'
import { auditFolder, expectWhole } from './support/audit.ts'
import { startInsistentProbes } from './support/insistent-probes.ts'

/* The radio link of a probe breaks, and the hub's own broker is at its other end. */

async function scene() {
  const folder = tempDir()
  onTestFinished(() => folder[Symbol.dispose]())
  const hub = await startHub('start', folder.path, { LOAMLINE_PROBE_LIMIT: '0' })
  onTestFinished(() => hub[Symbol.asyncDispose]())
  const link = await faultProxy({ host: '127.0.0.1', port: hub.mqttPort })
  onTestFinished(() => link[Symbol.asyncDispose]())
  const probes = await startInsistentProbes({
    url: `mqtt://127.0.0.1:${link.port}`,
    probes: 4,
    trusting: 2,
    everyMs: 20,
  })
  onTestFinished(() => probes.close())
  const heard = async (): Promise<void> => {
    const before = probes.toldCount()
    await until('probes are heard', () => probes.toldCount() > before + 40, 40_000)
  }
  await heard()
  return {
    hub,
    link,
    probes,
    heard,
    audit: async (): Promise<void> => {
      await probes.finish()
      expect(await hub.end()).toBe(0)
      expectWhole(await auditFolder(folder.path, probes), probes)
    },
  }
}

test.for(['refused', 'swallowed', 'deaf'] as const)(
  'probe link %s, embedded broker',
  { timeout: 60_000 },
  async (how) => {
    const { link, heard, audit } = await scene()
    await link.setLink(how)
    await new Promise((resolve) => setTimeout(resolve, 3000))
    await link.setLink('up')
    await heard()
    await audit()
  },
)

test('probe link cut in mid-packet, embedded broker', { timeout: 90_000 }, async () => {
  const { link, heard, audit } = await scene()
  const random = seededRandom(61)
  for (let cut = 0; cut < 14; cut++) {
    const before = link.cuts()
    link.cutAfter(1 + Math.floor(random() * 1500), cut % 2 === 0 ? 'to server' : 'to client')
    await until('it is cut', () => link.cuts() > before, 20_000)
  }
  await heard()
  await audit()
})

test('the hub is frozen for longer than probes wait, and thawed', { timeout: 60_000 }, async () => {
  const { hub, heard, audit } = await scene()
  process.kill(hub.pid, 'SIGSTOP')
  await new Promise((resolve) => setTimeout(resolve, 4000))
  process.kill(hub.pid, 'SIGCONT')
  await heard()
  await audit()
})
