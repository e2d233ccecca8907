import { guessChannel } from '../wire/channels.ts'
import { checkImport } from './check-import.ts'
import type { TransferDeps } from './check-import.ts'
import { storedReading } from './file-reading.ts'
import type { ImportMap } from './import-map.ts'
import type { ImportProbe, ImportReport } from './import-report.ts'

export interface ImportOutcome {
  readonly report: ImportReport
  /** How many readings were stored; null: none, because there are bad rows. */
  readonly stored: number | null
  /** Epoch ms of the first reading that is new; null when none is. */
  readonly from: number | null
}

/**
 * Checks a whole file, then stores it in one go as live readings are stored, or nothing of it when a row is bad. The
 * same file again changes nothing.
 */
export async function storeImport(
  source: AsyncIterable<Uint8Array>,
  map: ImportMap,
  deps: TransferDeps,
  told?: (rows: number) => void,
): Promise<ImportOutcome> {
  const { report, fresh } = await checkImport(source, map, deps, told)
  if (report.badCount > 0) return { report, stored: null, from: null }
  const now = deps.clock()
  if (fresh.length > 0) {
    const readings = fresh.map((reading) => storedReading(reading, now))
    await deps.readings.append({ readings, anchors: [], marks: [], quarantined: [] })
  }
  // Again, even when nothing is new: a hub that was cut off in between makes up for it here.
  for (const probe of report.probes) await note(probe, deps)
  await deps.readings.settle()
  const from =
    fresh.length === 0 ? null : fresh.reduce((min, { at }) => Math.min(min, at), Infinity)
  return { report, stored: fresh.length, from }
}

/** Makes the probe and its channels known; it was there from its first to its last reading. */
async function note(probe: ImportProbe, { garden, clock }: TransferDeps): Promise<void> {
  const channels = probe.channels
    .filter(({ isNew }) => isNew)
    .map(({ name, senses, unit }) => {
      const guess = guessChannel(name)
      // What the gardener said of it stands; what its name says may still be told better by the probe.
      return { ...guess, senses, unit, described: senses !== guess.senses || unit !== guess.unit }
    })
  if (!probe.isNew && channels.length === 0) return
  if (probe.isNew) {
    await garden.hear([{ id: probe.id, at: probe.from }], Infinity)
    await garden.adoptProbe(probe.id, probe.id, clock())
  }
  await garden.hear([{ id: probe.id, at: probe.to, channels }], Infinity)
}
