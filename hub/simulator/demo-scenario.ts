import { DAY, HOUR, MINUTE } from '../model/clock.ts'
import { ATLANTIC_COAST } from './climate.ts'
import { demoBeds } from './demo-beds.ts'
import { demoProbes } from './demo-probes.ts'
import { demoStory } from './demo-story.ts'
import type { Scenario } from './scenario.ts'

/** About 18 months. */
const HISTORY_DAYS = 548
const DENSE_DAYS = 30

/**
 * The demo: an invented garden of eight beds and nineteen probes with eighteen months behind it.
 *
 * @param now epoch ms; the history ends here
 */
export function demoScenario({ seed, now }: { seed: number; now: number }): Scenario {
  const start = Math.floor((now - HISTORY_DAYS * DAY) / HOUR) * HOUR
  const beds = demoBeds(now, start)
  const probes = demoProbes(seed, now, start, beds)
  return {
    seed,
    garden: {
      name: 'Tame Blackbird Garden',
      zone: 'Europe/Lisbon',
      units: 'metric',
      language: 'en',
    },
    climate: ATLANTIC_COAST,
    start,
    now,
    denseFrom: Math.floor((now - DENSE_DAYS * DAY) / HOUR) * HOUR,
    sparseMs: HOUR,
    denseMs: 15 * MINUTE,
    beds,
    probes,
    ...demoStory(now),
  }
}
