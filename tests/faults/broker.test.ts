import { expect, onTestFinished, test } from 'vitest'
import { faultProxy } from '../support/services/fault-proxy.ts'
import { startMosquitto } from '../support/services/services.ts'
import { seededRandom } from '../support/random.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'
import { auditFolder, expectWhole } from './support/audit.ts'
import { startInsistentProbes } from './support/insistent-probes.ts'
import { startIntake } from './support/intake-process.ts'

/*
 * What can happen to a broker and to the links on both sides of it. The hub says what is wrong, comes back by itself,
 * and in the end everything measured is stored, once.
 */

async function scene() {
  const folder = tempDir()
  onTestFinished(() => folder[Symbol.dispose]())
  const broker = await startMosquitto()
  onTestFinished(() => broker[Symbol.asyncDispose]())
  const link = await faultProxy(broker)
  onTestFinished(() => link[Symbol.asyncDispose]())
  const host = startIntake(folder.path, 'external', `mqtt://127.0.0.1:${link.port}`, {
    keepAliveS: 2,
  })
  onTestFinished(() => host[Symbol.asyncDispose]())
  await host.whenUp()
  const probes = await startInsistentProbes({
    url: `mqtt://127.0.0.1:${broker.port}`,
    probes: 4,
    everyMs: 20,
  })
  onTestFinished(() => probes.close())
  const heard = async (): Promise<void> => {
    const before = probes.toldCount()
    await until('probes are heard', () => probes.toldCount() > before + 60, 40_000)
  }
  await heard()
  return {
    probes,
    /** Between the hub and its broker. */
    link,
    broker,
    /** Probes are heard again, well beyond where they were. */
    heard,
    /** The hub says that the broker is away, and how. */
    broken: async (words: RegExp): Promise<void> => {
      expect(
        await until('the hub says that the broker is away', () => host.problem(), 20_000),
      ).toMatch(words)
    },
    /** Ends all of it and holds what is stored against what was measured. */
    audit: async (): Promise<void> => {
      await probes.finish()
      expect(host.problem()).toBeNull()
      await host.end('SIGTERM')
      expectWhole(await auditFolder(folder.path, probes), probes)
    },
  }
}

test('broker stopped and started again', { timeout: 90_000 }, async () => {
  const { broker, broken, heard, audit } = await scene()
  for (let time = 0; time < 2; time++) {
    await broker.stop()
    await broken(/closed the connection|nothing listens there|was reset/)
    await broker.start()
    await heard()
  }
  await audit()
})

test('broker killed, with what it held in memory gone', { timeout: 90_000 }, async () => {
  const { broker, broken, heard, audit } = await scene()
  for (let time = 0; time < 2; time++) {
    await broker.kill()
    await broken(/closed the connection|nothing listens there|was reset/)
    await broker.start()
    await heard()
  }
  await audit()
})

test('broker frozen: connections stand, nothing answers', { timeout: 90_000 }, async () => {
  const { broker, broken, heard, audit } = await scene()
  await broker.freeze()
  await broken(/did not answer any more|did not answer within/)
  await broker.thaw()
  await heard()
  await audit()
})

test('broker refuses connections', { timeout: 90_000 }, async () => {
  const { link, broken, heard, audit } = await scene()
  await link.setLink('refused')
  await broken(/closed the connection|nothing listens there|was reset/)
  await link.setLink('up')
  await heard()
  await audit()
})

test(
  'broker swallowed: the link takes everything and passes nothing',
  { timeout: 90_000 },
  async () => {
    const { link, broken, heard, audit } = await scene()
    await link.setLink('swallowed')
    await broken(/did not answer any more|did not answer within/)
    await link.setLink('up')
    await heard()
    await audit()
  },
)

test('broker deaf: what the hub says passes, nothing comes back', { timeout: 90_000 }, async () => {
  const { link, broken, heard, audit } = await scene()
  await link.setLink('deaf')
  await broken(/did not answer any more|did not answer within/)
  await link.setLink('up')
  await heard()
  await audit()
})

test('broker slow: a few kilobytes a second, half a second late', { timeout: 90_000 }, async () => {
  const { link, probes, heard, audit } = await scene()
  link.delay(500)
  link.slow(6000)
  const before = probes.toldCount()
  await until('probes are heard all the same', () => probes.toldCount() > before + 60, 40_000)
  link.delay(0)
  link.slow(null)
  await heard()
  await audit()
})

test(
  'broker link cut in mid-packet, again and again, both ways',
  { timeout: 120_000 },
  async () => {
    const { link, heard, audit } = await scene()
    const random = seededRandom(51)
    for (let cut = 0; cut < 8; cut++) {
      const before = link.cuts()
      link.cutAfter(1 + Math.floor(random() * 3000), cut % 2 === 0 ? 'to client' : 'to server')
      await until('it is cut', () => link.cuts() > before, 20_000)
      if (cut % 4 === 3) await heard()
    }
    await audit()
  },
)
