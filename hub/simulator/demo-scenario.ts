import { DAY, HOUR, MINUTE } from '../model/clock.ts'
import { demoBeds } from './demo-beds.ts'
import { demoProbes } from './demo-probes.ts'
import { demoStory } from './demo-story.ts'
import type { Scenario } from './scenario.ts'
import type { Climate } from './weather.ts'

/** About 18 months. */
const HISTORY_DAYS = 548
const DENSE_DAYS = 30

/** Mild wet winters, dry summers: an Atlantic coast at 39 degrees north. Numbers from memory. */
const CLIMATE: Climate = {
  meanC: 16.5,
  yearC: 7,
  dayC: 4.5,
  warmingDay: 115,
  diffusivity: 5e-7,
  wetAfterDry: [0.24, 0.03],
  wetAfterWet: [0.58, 0.2],
  wetDayMm: 6,
  et0Mm: [3.1, 2],
  solarOffsetH: -0.6,
}

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
    garden: { name: 'Tame Blackbird Garden', zone: 'Europe/Lisbon', units: 'metric' },
    climate: CLIMATE,
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
