import { SECOND, type Clock } from '../model/clock.ts'
import { simulateGarden } from '../simulator/garden-simulation.ts'
import { withEvent, type Scenario } from '../simulator/scenario.ts'
import { startSimulatedProbe } from './simulated-probe.ts'

export interface LiveProbes {
  /** When the event of the scenario begins, epoch ms. */
  readonly eventAt: number
  /** Readings that the hub has not acknowledged, over all probes. */
  unacknowledged(): number
  stop(): Promise<void>
}

/**
 * Starts every probe of a scenario as a real MQTT client, the one nobody has taken in too, each going on
 * where the history ended. After `eventDelayMs` the scenario's live event comes over its bed.
 */
export function runLiveProbes(options: {
  /** Broker, such as mqtt://127.0.0.1:1883. */
  url: string
  scenario: Scenario
  clock: Clock
  eventDelayMs: number
  /** @default 5000 */
  intervalMs?: number
  /** Told of trouble with a probe's connection; it is tried again anyway. */
  onTrouble?: (probe: string, trouble: Error) => void
}): LiveProbes {
  const { url, scenario, clock, eventDelayMs, intervalMs = 5 * SECOND, onTrouble } = options
  const startedAt = clock()
  const eventAt = startedAt + eventDelayMs
  const garden = simulateGarden(withEvent(scenario, { ...scenario.liveEvent.event, at: eventAt }))
  const running = scenario.probes.map((probe, index) =>
    startSimulatedProbe({
      url,
      probe,
      measure: garden.probe(probe.id).measure,
      clock,
      // Seconds since 1970: above every boot of the history, and of any earlier start.
      boot: Math.floor(startedAt / SECOND),
      intervalMs,
      firstAfterMs: Math.round((intervalMs * index) / scenario.probes.length),
      ...(onTrouble === undefined ? {} : { onTrouble: (error) => onTrouble(probe.id, error) }),
    }),
  )
  return {
    eventAt,
    unacknowledged: () => running.reduce((sum, one) => sum + one.unacknowledged(), 0),
    stop: async () => {
      await Promise.all(running.map((one) => one.stop()))
    },
  }
}
