import { expect, onTestFinished, test } from 'vitest'
import { startBroker } from '../support/broker.ts'
import { freePort } from '../support/ports.ts'
import { seededRandom } from '../support/random.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'
import { auditFolder, expectWhole } from './support/audit.ts'
import { startInsistentProbes } from './support/insistent-probes.ts'
import { startIntake } from './support/intake-process.ts'
import type { IntakeProcess } from './support/intake-process.ts'
import { repeats } from './support/repeats.ts'

/*
 * The process dies without a word, again and again, while probes send. What they were told is stored must
 * be there; what they were not told they send again, and it must not be there twice.
 */

/** Of each way in, in CI and by default; `LOAMLINE_TEST_KILLS` sets another number. */
const KILLS = repeats('LOAMLINE_TEST_KILLS', 50)
/** One kill in so many comes at any moment of the start instead of under load. */
const EARLY_EVERY = 5
const START_MS = 500

async function killAgainAndAgain(
  kind: 'embedded' | 'external',
  where: string,
  url: string,
  seed: number,
): Promise<void> {
  const folder = tempDir()
  onTestFinished(() => folder[Symbol.dispose]())
  const random = seededRandom(seed)
  const life = async (): Promise<IntakeProcess> => {
    const started = startIntake(folder.path, kind, where)
    onTestFinished(() => started[Symbol.asyncDispose]())
    return started
  }
  let host = await life()
  await host.whenUp()
  // With the built-in broker a PUBACK says as much as the hub's own word: half of the probes take it at that.
  const trusting = kind === 'embedded' ? 3 : 0
  const probes = await startInsistentProbes({ url, probes: 6, trusting })
  onTestFinished(() => probes.close())
  let underLoad = 0
  for (let kill = 1; kill <= KILLS; kill++) {
    if (kill % EARLY_EVERY === 0) {
      await new Promise((resolve) => setTimeout(resolve, random() * START_MS))
    } else {
      await host.whenUp()
      const enough = 1 + random() * 120
      await until('the hub takes readings', () => host.messages() > enough, 20_000)
      underLoad++
    }
    await host.end('SIGKILL')
    host = await life()
  }
  await host.whenUp()
  await probes.finish()
  await host.end('SIGTERM')
  expect(underLoad).toBeGreaterThanOrEqual(Math.floor((KILLS * (EARLY_EVERY - 1)) / EARLY_EVERY))
  const audit = await auditFolder(folder.path, probes)
  console.log(`${kind} broker, ${KILLS} times kill -9: ${JSON.stringify(audit)}`)
  expectWhole(audit, probes)
}

test('kill -9 of the hub under load, embedded broker', { timeout: 300_000 }, async () => {
  const port = await freePort()
  await killAgainAndAgain('embedded', String(port), `mqtt://127.0.0.1:${port}`, 21)
})

test("kill -9 of the hub under load, broker of one's own", { timeout: 300_000 }, async () => {
  const broker = await startBroker()
  onTestFinished(() => broker.close())
  await killAgainAndAgain('external', broker.url, broker.url, 22)
})
