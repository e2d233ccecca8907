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
  /** How many are new; more than were stored: it was given up in between. */
  readonly fresh: number
  /** Epoch ms of the first reading that is new; null when none is. */
  readonly from: number | null
}

export interface StoreOptions {
  /** Hears the number of rows looked at so far. */
  readonly told?: (rows: number) => void
  /** Hears how many of the new readings are stored. */
  readonly onStored?: (stored: number, of: number) => void
  /** Given up while it checks, nothing is stored; while it stores, what was stored stays. */
  readonly signal?: AbortSignal
}

/** Readings stored at a time: live ones wait no longer than for these. */
const SLICE = 2000

/**
 * Checks a whole file, then stores it slice by slice as live readings are stored, or nothing of it when a row is bad.
 * The same file again changes nothing, and brings what is missing when it was cut off or given up.
 *
 * @throws the reason of the signal when it is given up before anything was stored
 */
export async function storeImport(
  source: AsyncIterable<Uint8Array>,
  map: ImportMap,
  deps: TransferDeps,
  { told, onStored, signal }: StoreOptions = {},
): Promise<ImportOutcome> {
  const { report, fresh } = await checkImport(source, map, deps, told, signal)
  if (report.badCount > 0) return { report, stored: null, fresh: fresh.length, from: null }
  signal?.throwIfAborted()
  const now = deps.clock()
  let stored = 0
  while (stored < fresh.length && signal?.aborted !== true) {
    const readings = fresh
      .slice(stored, stored + SLICE)
      .map((reading) => storedReading(reading, now))
    await deps.readings.append({ readings, anchors: [], marks: [], quarantined: [] })
    stored += readings.length
    onStored?.(stored, fresh.length)
  }
  // Again, even when nothing is new: a hub that was cut off in between makes up for it here.
  for (const probe of report.probes) await note(probe, deps)
  await deps.readings.settle()
  const from =
    stored === 0
      ? null
      : fresh.slice(0, stored).reduce((min, { at }) => Math.min(min, at), Infinity)
  return { report, stored, fresh: fresh.length, from }
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
