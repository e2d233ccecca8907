import { SECOND, type Clock } from '../model/clock.ts'
import type { Fault } from '../simulator/faults.ts'
import { simulateGarden } from '../simulator/garden-simulation.ts'
import { seededRandom } from '../simulator/random.ts'
import type { Scenario } from '../simulator/scenario.ts'
import type { Counted } from '../simulator/wire-messages.ts'
import { freshMemory } from './probe-obedience.ts'
import { startSimulatedProbe, type RunningProbe } from './simulated-probe.ts'

export interface FleetProbe {
  readonly id: string
  readonly state: 'connected' | 'trying' | 'out of reach' | 'no power'
  /** Of the present boot: readings taken, and how many of them the hub has not acknowledged. */
  readonly taken: number
  readonly unacknowledged: number
}

export interface Fleet {
  probes(): readonly FleetProbe[]
  stop(): Promise<void>
}

export interface FleetRun {
  /** Broker, such as mqtt://127.0.0.1:1883. */
  readonly url: string
  readonly scenario: Scenario
  readonly clock: Clock
  readonly intervalMs: number
  /** Share of messages that never arrive, 0 to 1. */
  readonly lose: number
  /** By probe id; a probe without one connects without. */
  readonly passwords: ReadonlyMap<string, string>
  /** Certificates of who vouches for the broker, PEM. @default those this machine trusts */
  readonly ca?: string
  /** Wait for the hub's answer before a reading is sent again, ms. @default 60000 */
  readonly resendAfterMs?: number
  readonly onTrouble?: (probe: string, trouble: Error) => void
  /** How many times faster than real time the clock runs. @default 1 */
  readonly speed?: number
  readonly onMeasured?: (probe: string, one: Counted, at: number) => void
  /** Readings that went before the hub had acknowledged them. */
  readonly onForgotten?: (probe: string, readings: readonly Counted[]) => void
}

/** Runs every probe of a scenario as a real MQTT client, its outages and losses of power included. */
export function runFleet(run: FleetRun): Fleet {
  const { url, scenario, clock, intervalMs, lose, passwords, onTrouble } = run
  const garden = simulateGarden(scenario)
  const timers = new Set<NodeJS.Timeout>()
  const at = (moment: number, work: () => void): void => {
    const wait = moment - clock()
    // A fault without an end never ends.
    if (!Number.isFinite(wait)) return
    const timer = setTimeout(
      () => {
        timers.delete(timer)
        work()
      },
      Math.max(0, wait) / (run.speed ?? 1),
    )
    timers.add(timer)
  }

  const members = scenario.probes.map((probe, index) => {
    const luck = seededRandom(scenario.seed).split(`link ${probe.id}`)
    const password = passwords.get(probe.id)
    let boot = Math.floor(clock() / SECOND)
    const memory = freshMemory()
    let powered = true
    let within = true
    const power = (firstAfterMs: number): RunningProbe =>
      startSimulatedProbe({
        url,
        probe,
        measure: garden.probe(probe.id).measure,
        clock,
        boot,
        memory,
        intervalMs,
        firstAfterMs,
        loses: () => luck.chance(lose),
        ...(run.resendAfterMs === undefined ? {} : { resendAfterMs: run.resendAfterMs }),
        ...(run.speed === undefined ? {} : { speed: run.speed }),
        onMeasured: (one, moment) => run.onMeasured?.(probe.id, one, moment),
        onForgotten: (readings) => run.onForgotten?.(probe.id, readings),
        ...(password === undefined ? {} : { password }),
        ...(run.ca === undefined ? {} : { ca: run.ca }),
        ...(onTrouble === undefined
          ? {}
          : { onTrouble: (error: Error) => onTrouble(probe.id, error) }),
      })
    let running = power(Math.round((intervalMs * index) / scenario.probes.length))
    const plan: Partial<Record<Fault['kind'], (fault: Fault) => void>> = {
      outage: (fault) => {
        at(fault.from, () => {
          within = false
          running.loseReach()
        })
        at(fault.to, () => {
          within = true
          running.regainReach()
        })
      },
      'no power': (fault) => {
        at(fault.from, () => {
          powered = false
          running.losePower()
        })
        at(fault.to, () => {
          powered = true
          // The count is lost, so the boot is another one.
          boot = running.boot() + 1
          running = power(0)
          if (!within) running.loseReach()
        })
      },
    }
    for (const fault of probe.faults) plan[fault.kind]?.(fault)
    return {
      look: (): FleetProbe => ({
        id: probe.id,
        state: !powered
          ? 'no power'
          : !within
            ? 'out of reach'
            : running.connected()
              ? 'connected'
              : 'trying',
        taken: running.taken(),
        unacknowledged: running.unacknowledged(),
      }),
      stop: async (): Promise<void> => {
        if (powered) await running.stop()
      },
    }
  })

  return {
    probes: () => members.map((member) => member.look()),
    stop: async () => {
      for (const timer of timers) clearTimeout(timer)
      timers.clear()
      await Promise.all(members.map((member) => member.stop()))
    },
  }
}
