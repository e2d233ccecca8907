import { expect, onTestFinished, test } from 'vitest'
import { checkProbe } from '#hub/conformance/check-probe.ts'
import type { Report } from '#hub/conformance/report.ts'
import { startSimulatedProbe } from '#hub/demo/simulated-probe.ts'
import { openEmbeddedBroker } from '#hub/ingest/embedded-broker.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { fleetScenario } from '#hub/simulator/fleet-scenario.ts'
import { simulateGarden } from '#hub/simulator/garden-simulation.ts'
import { startBroker } from '../../support/broker.ts'
import { memoryGarden, memoryReadings } from '../../support/memory-stores.ts'
import { BRISK, IN_A_HURRY } from './pace.ts'

/** The simulated probe, checked through a proxy in front of a broker. */
async function checked(port: number): Promise<Report> {
  const scenario = fleetScenario({
    seed: 11,
    count: 1,
    prefix: 'sim',
    now: Date.now(),
    clockError: 0,
    buffer: 500,
    faultsOf: () => [],
  })
  const { probe, measure } = simulateGarden(scenario).probe('sim1')
  const check = await checkProbe({
    probe: 'sim1',
    listen: { host: '127.0.0.1', port: 0 },
    broker: { host: '127.0.0.1', port },
    clock: Date.now,
    plan: { ...IN_A_HURRY, refuseMs: 8000, outage: 100 },
    terms: BRISK,
  })
  const running = startSimulatedProbe({
    url: `mqtt://127.0.0.1:${check.port}`,
    probe,
    measure,
    clock: Date.now,
    boot: 7,
    intervalMs: 75,
    keepAliveS: 1,
    pausesMs: [21, 1334],
    resendAfterMs: BRISK.resendMs,
  })
  onTestFinished(() => running.stop())
  return check.done
}

function expectAllMet({ requirements, passed }: Report): void {
  const told = (wanted: string): readonly string[] =>
    requirements.flatMap(({ id, verdict, told: why }) =>
      verdict === wanted ? [`${id} ${why}`] : [],
    )
  expect(told('not met')).toEqual([])
  // A sensor is not pulled off, the electrode has settled, it does not sleep, plain TCP, no day.
  const left = told('not tested').map((one) => one.slice(0, 5))
  expect(left, told('not tested').join('\n')).toEqual([
    'LM-16',
    'LM-19',
    'LM-31',
    'LM-32',
    'LM-33',
    'LM-34',
    'LM-35',
  ])
  expect(passed).toBe(true)
}

test('meets everything that is tested, on a mosquitto, where the check acknowledges', async () => {
  const broker = await startBroker()
  onTestFinished(() => broker.close())
  expectAllMet(await checked(broker.port))
}, 90_000)

test('meets everything that is tested, on the hub itself, which acknowledges', async () => {
  const store = memoryReadings()
  const log = { warn: () => {}, info: () => {} }
  const ingest = createIngest({
    readings: store.port,
    garden: memoryGarden().port,
    clock: Date.now,
    log,
  })
  const front = await openEmbeddedBroker({
    host: '127.0.0.1',
    port: 0,
    ingest,
    clock: Date.now,
    log,
  })
  onTestFinished(() => front.stop())
  expectAllMet(await checked(Number(new URL(front.address).port)))
}, 90_000)
