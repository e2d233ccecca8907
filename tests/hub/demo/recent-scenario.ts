import { DAY } from '#hub/model/clock.ts'
import { demoScenario } from '#hub/simulator/demo-scenario.ts'
import type { Scenario } from '#hub/simulator/scenario.ts'

/** The demo garden with only the last `days` of its history: probes that were there earlier start then. */
export function recentScenario(now: number, days: number): Scenario {
  const whole = demoScenario({ seed: 20260, now })
  const start = now - days * DAY
  return {
    ...whole,
    start,
    probes: whole.probes.map((probe) => ({
      ...probe,
      from: Math.max(probe.from, start),
      services: probe.services.filter((at) => at > start),
    })),
  }
}
