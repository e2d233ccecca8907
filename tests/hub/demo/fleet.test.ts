import { expect, onTestFinished, test } from 'vitest'
import { openExternalBroker } from '#hub/ingest/external-broker.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { runFleet } from '#hub/demo/fleet.ts'
import type { Fault } from '#hub/simulator/faults.ts'
import { fleetScenario } from '#hub/simulator/fleet-scenario.ts'
import { startBroker } from '../../support/broker.ts'
import { memoryGarden, memoryReadings } from '../../support/memory-stores.ts'
import { until } from '../../support/until.ts'

/** A hub's intake behind a real mosquitto, and probes that publish to it every 300 ms. */
async function scene(options: {
  readonly count: number
  readonly lose?: number
  readonly faultsOf?: (number: number, now: number) => readonly Fault[]
}) {
  const broker = await startBroker()
  onTestFinished(() => broker.close())
  const readings = memoryReadings()
  const ingest = createIngest({
    readings: readings.port,
    garden: memoryGarden().port,
    clock: Date.now,
    maxStrangers: 50,
    log: { warn: () => undefined, info: () => undefined },
    onHeard: () => undefined,
  })
  onTestFinished(() => ingest.stop())
  const front = await openExternalBroker({
    url: broker.url,
    clientId: 'hub-of-fleet-test',
    ingest,
    clock: Date.now,
    log: { warn: () => undefined, info: () => undefined },
  })
  onTestFinished(() => front.stop())
  await until('the hub listens', () => front.state().state === 'up')
  const now = Date.now()
  const fleet = runFleet({
    url: broker.url,
    scenario: fleetScenario({
      seed: 3,
      count: options.count,
      prefix: 'sim',
      now,
      clockError: 0,
      buffer: 400,
      faultsOf: (number) => options.faultsOf?.(number, now) ?? [],
    }),
    clock: Date.now,
    intervalMs: 300,
    lose: options.lose ?? 0,
    passwords: new Map(),
    resendAfterMs: 500,
  })
  let stopped = false
  const stop = async (): Promise<void> => {
    if (stopped) return
    stopped = true
    await fleet.stop()
  }
  onTestFinished(stop)
  const stored = (probe: string) =>
    [...readings.readings.values()].filter((reading) => reading.probe === probe)
  return { fleet, readings, stored, stop }
}

test('every probe of a fleet gets through, each on its own soil', async () => {
  const { readings, stored } = await scene({ count: 4 })
  await until('three readings of each', () =>
    ['sim1', 'sim2', 'sim3', 'sim4'].every((id) => stored(id).length >= 3),
  )
  expect(readings.quarantined).toEqual([])
  const volts = ['sim1', 'sim2', 'sim3', 'sim4'].map(
    (id) => stored(id)[0]!.values.find(({ channel }) => channel === 'phmv')!.value,
  )
  expect(new Set(volts).size).toBe(4)
}, 30_000)

test('a third of the messages lost costs no reading', async () => {
  const { fleet, readings, stored } = await scene({ count: 2, lose: 0.33 })
  await until(
    'everything that was taken is stored',
    () => {
      const probes = fleet.probes()
      return (
        probes.every(({ taken }) => taken >= 12) &&
        probes.every(({ id }) => {
          const seqs = stored(id)
            .map(({ seq }) => seq)
            .toSorted((a, b) => a - b)
          // All of the first twelve, the lost ones too: they came in batches.
          return seqs.filter((seq) => seq < 12).length === 12
        })
      )
    },
    50_000,
  )
  expect(readings.quarantined).toEqual([])
}, 60_000)

test('out of reach it measures on and sends the rest; without power it starts anew', async () => {
  const { fleet, stored } = await scene({
    count: 2,
    faultsOf: (number, now) =>
      number === 1
        ? [{ kind: 'outage', from: now + 1500, to: now + 4500, hubAway: false }]
        : [{ kind: 'no power', from: now + 1500, to: now + 3000 }],
  })
  const state = (index: number) => fleet.probes()[index]!.state
  await until('both are away', () => state(0) === 'out of reach' && state(1) === 'no power', 10_000)
  const away = fleet.probes()[0]!.taken
  await until('both are back', () => state(0) === 'connected' && state(1) === 'connected', 20_000)
  expect(fleet.probes()[0]!.taken).toBeGreaterThan(away)
  await until(
    'the first lost nothing',
    () => {
      const seqs = stored('sim1').map(({ seq }) => seq)
      return seqs.length > 16 && new Set(seqs).size === Math.max(...seqs) + 1
    },
    30_000,
  )
  await until('the second counts a new boot', () => {
    const boots = new Set(stored('sim2').map(({ boot }) => boot))
    return boots.size === 2
  })
}, 70_000)
