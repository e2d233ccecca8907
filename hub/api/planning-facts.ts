import type { Bed } from '../model/bed.ts'
import type { SpotDay } from '../model/spot-day.ts'
import type { BedFacts } from '../planning/bed-facts.ts'
import type { ApiDeps } from './deps.ts'

/** Everything the planner may know of a bed now, read from the stores and the watch. */
export async function bedFacts(
  { garden, memory, watch, clock }: Pick<ApiDeps, 'garden' | 'memory' | 'watch' | 'clock'>,
  bed: Bed,
): Promise<BedFacts> {
  const at = clock()
  const [{ zone }, soil, tests, journal, plans, settings, days] = await Promise.all([
    garden.garden(),
    garden.bedSoil(bed.id),
    garden.soilTests(bed.id),
    garden.journal({ bedId: bed.id, to: at + 1 }),
    garden.plans(bed.id),
    garden.planningSettings(),
    memory.spotDays(bed.id, -Infinity, at),
  ])
  const assessment = watch.latest(bed.id)
  return {
    bed,
    at,
    zone,
    soil: soil ?? { bedId: bed.id, bulkDensity: null, planting: null, hardWater: null },
    tests: tests.filter((test) => test.at <= at),
    journal,
    plans,
    assessment,
    study: assessment?.study ?? null,
    soilC: soilTemperature(days),
    settings,
  }
}

/** Mean over the spots of each UTC day, ascending. */
function soilTemperature(days: readonly SpotDay[]): BedFacts['soilC'] {
  const sums = new Map<number, { sum: number; n: number }>()
  for (const { day, temperatureC } of days) {
    if (!Number.isFinite(temperatureC)) continue
    const own = sums.get(day) ?? { sum: 0, n: 0 }
    own.sum += temperatureC
    own.n++
    sums.set(day, own)
  }
  const sorted = Array.from(sums).toSorted(([a], [b]) => a - b)
  return {
    day: Float64Array.from(sorted, ([day]) => day),
    value: Float64Array.from(sorted, ([, { sum, n }]) => sum / n),
  }
}
