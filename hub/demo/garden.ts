import { DAY } from '../model/clock.ts'
import type { NewJournalEntry } from '../model/journal.ts'
import { simulateGarden } from '../simulator/garden-simulation.ts'
import { seededRandom } from '../simulator/random.ts'
import type { Scenario } from '../simulator/scenario.ts'
import type { GardenStore } from '../store/garden-store.ts'
import { everywhere } from '../words/everywhere.ts'
import { say } from '../words/say.ts'

/** Waterings older than this were not written down. */
const WATERINGS_SINCE_MS = 200 * DAY
/** Not every watering makes it into the journal. */
const WATERING_NOTED = 0.25

type Entry = Omit<NewJournalEntry, 'bedId'> & { readonly bed: string }

const BLANK = {
  material: null,
  amountG: null,
  waterL: null,
  probe: null,
  ph: null,
  method: null,
} as const

/** Everything the gardener wrote down up to `now`, ascending. */
export function journalOf(scenario: Scenario, now: number): readonly Entry[] {
  const simulation = simulateGarden(scenario)
  const random = seededRandom(scenario.seed).split('journal')
  const entries: Entry[] = []
  for (const { bed, at, material, amountG, text } of scenario.treatments) {
    entries.push({ ...BLANK, kind: 'treatment', bed, at, material, amountG, text })
  }
  for (const { bed, at, text } of scenario.notes) {
    entries.push({ ...BLANK, kind: 'note', bed, at, text })
  }
  for (const sampling of scenario.samplings) {
    const { bed, at, method, offsetPh, scatterPh, text } = sampling
    const scatter = random.split(`sample ${bed} ${text}`).normal(0, scatterPh)
    const ph = Math.round((simulation.bed(bed).ph(at) + offsetPh + scatter) * 10) / 10
    entries.push({ ...BLANK, kind: 'sample', bed, at, ph, method, text })
  }
  for (const bed of scenario.beds) {
    const own = random.split(`waterings ${bed.key}`)
    const since = Math.max(bed.madeAt, now - WATERINGS_SINCE_MS)
    for (const { at, mm } of simulation.bed(bed.key).water.waterings(since, now)) {
      if (!own.chance(WATERING_NOTED)) continue
      // 1 mm on 1 m2 is 1 L; a can holds ten.
      const waterL = Math.max(5, Math.round((mm * bed.areaM2) / 5) * 5)
      entries.push({ ...BLANK, kind: 'irrigation', bed: bed.key, at, waterL, text: '' })
    }
  }
  for (const probe of scenario.probes) {
    for (const at of probe.services) {
      const spot = probe.placements.findLast((one) => one.from <= at)?.spot
      const bed = scenario.beds.find((one) => one.spots.some(({ key }) => key === spot))
      if (bed === undefined) continue
      const text = 'Taken out, cleaned, calibrated in buffers 7 and 4, put back.'
      entries.push({ ...BLANK, kind: 'service', bed: bed.key, at, probe: probe.id, text })
    }
  }
  return entries.filter((entry) => entry.at <= now).toSorted((a, b) => a.at - b.at)
}

/** Writes the garden, its beds, spots, probes, calibrations and journal; the readings come separately. */
export async function plantDemo(
  garden: GardenStore,
  scenario: Scenario,
  now: number,
): Promise<void> {
  await garden.setGarden(scenario.garden)
  const bedIds = new Map<string, number>()
  const spotIds = new Map<string, number>()
  for (const bed of scenario.beds) {
    const { name, areaM2, depthM, texture, crops, ownBand } = bed
    const stored = await garden.addBed(
      { name, areaM2, depthM, texture, crops, ownBand },
      bed.madeAt,
    )
    bedIds.set(bed.key, stored.id)
    for (const spot of bed.spots) {
      const place = await garden.addSpot(stored.id, spot.name)
      if (place === null) throw new Error(`bed ${stored.id} was just added and is gone`)
      spotIds.set(spot.key, place.id)
    }
  }
  const simulation = simulateGarden(scenario)
  for (const probe of scenario.probes.filter((one) => one.adopted)) {
    await garden.adoptProbe(probe.id, probe.name, probe.from)
    for (const { spot, from } of probe.placements) {
      await garden.placeProbe(probe.id, spotIds.get(spot) ?? null, from)
    }
    for (const calibration of simulation.probe(probe.id).calibrations(now)) {
      await garden.addCalibration(calibration)
    }
  }
  /** Treatments by bed and time: the stages of plans name them so. */
  const treatments = new Map<string, number>()
  for (const { bed, ...entry } of journalOf(scenario, now)) {
    const { id } = await garden.addEntry({ ...entry, bedId: bedIds.get(bed)! })
    if (entry.kind === 'treatment') treatments.set(`${bed} ${entry.at}`, id)
  }
  await plantPlanning(garden, scenario, bedIds, treatments)
}

async function plantPlanning(
  garden: GardenStore,
  { soils, plans, settings }: Scenario,
  bedIds: ReadonlyMap<string, number>,
  treatments: ReadonlyMap<string, number>,
): Promise<void> {
  await garden.setPlanningSettings(settings)
  for (const { bed, soil, tests } of soils) {
    const bedId = bedIds.get(bed)!
    await garden.setBedSoil({ ...soil, bedId })
    for (const { at, text, body } of tests) await garden.addSoilTest({ bedId, at, text, ...body })
  }
  for (const { bed, createdAt, plan, stages } of plans) {
    await garden.addPlan(
      {
        ...plan,
        // The one plan there is; a basis that is written down is no longer made anew.
        bases: everywhere(() => say`A jar test of this bed.`),
        bedId: bedIds.get(bed)!,
        stages: stages.map(({ doneAt, ...stage }) => ({
          ...stage,
          entryId: doneAt === null ? null : (treatments.get(`${bed} ${doneAt}`) ?? null),
        })),
      },
      createdAt,
    )
  }
}
