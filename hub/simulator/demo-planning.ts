import { DAY } from '../model/clock.ts'
import { ago, daysSinceDayOfYear } from './ago.ts'
import type { Scenario } from './scenario.ts'

/** Day of the year from which the soil of the demo garden is warm enough for sulfur to work, and its last. */
const WARM = { from: 115, to: 258 } as const
const OF_A_YEAR = 365

/** What the gardener of the demo knows of the soil, the plan that runs, and what the bags cost. */
export function demoPlanning(now: number): Pick<Scenario, 'soils' | 'plans' | 'settings'> {
  const third = ago(now, -daysToNextPortion(now), 10)
  const change = (typical: number) => ({
    low: 0.75 * typical,
    typical,
    high: 1.35 * typical,
  })
  const sulfur = (from: number) => ({
    fullFrom: from + 90 * DAY,
    fullBy: from + 365 * DAY,
    retestsAt: [from + 90 * DAY, from + 180 * DAY, from + 365 * DAY],
  })
  return {
    soils: [
      {
        bed: 'moss',
        soil: { bulkDensity: 700, planting: 'standing', hardWater: false },
        tests: [
          {
            at: ago(now, 498, 15),
            text: 'Rainwater, three weeks on the shelf in the shed.',
            body: {
              kind: 'jar test',
              soilG: 500,
              jars: [
                { limeG: 0, ph: 6.2 },
                { limeG: 0.3, ph: 6.7 },
                { limeG: 0.6, ph: 7.2 },
                { limeG: 0.9, ph: 7.6 },
              ],
            },
          },
          {
            at: ago(now, 498, 16),
            text: 'Not a sound.',
            body: { kind: 'vinegar test', fizzes: false },
          },
        ],
      },
      {
        bed: 'lantern',
        soil: { bulkDensity: 620, planting: 'bare', hardWater: false },
        tests: [],
      },
      {
        bed: 'cricket',
        soil: { bulkDensity: 900, planting: 'standing', hardWater: false },
        tests: [],
      },
    ],
    plans: [
      {
        bed: 'moss',
        createdAt: ago(now, 495, 18),
        plan: {
          material: 'sulfur',
          strength: 2.8,
          fromPh: 6.25,
          targetPh: 5.1,
          buffering: { low: 230, typical: 320, high: 430 },
          basis: 'A jar test of this bed.',
        },
        stages: [ago(now, 490, 10), ago(now, 300, 10), third].map((dueAt) => ({
          dueAt,
          amountG: 140,
          change: change(-0.4),
          ...sulfur(dueAt),
          doneAt: dueAt < now ? dueAt : null,
        })),
      },
    ],
    settings: {
      season: null,
      currency: 'EUR',
      prices: [
        { material: 'ground-limestone', perKg: 0.8 },
        { material: 'sulfur', perKg: 4.5 },
      ],
    },
  }
}

/** Two weeks ahead while the soil is warm, else when it will be. */
function daysToNextPortion(now: number): number {
  const sinceWarm = daysSinceDayOfYear(now, WARM.from, 0)
  return sinceWarm <= WARM.to - WARM.from ? 14 : OF_A_YEAR - sinceWarm
}
