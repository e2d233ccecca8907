import { statfs } from 'node:fs/promises'
import type { HubTrouble } from '../alerts/hub-look.ts'
import { type DiskSample, fullAt } from '../alerts/disk-fill.ts'
import type { Disk } from '../api/schemas/health.ts'
import { HubError } from '../errors.ts'
import type { HubFacts } from '../evaluation/watch-rest.ts'
import type { FrontState } from '../ingest/front.ts'
import { clockWatch, type ClockJump } from './clock-watch.ts'
import { DAY, HOUR, type Clock } from '../model/clock.ts'
import type { Damaged } from '../store/reading-store.ts'
import type { SetAside } from '../store/set-aside.ts'
import { say } from '../words/say.ts'

/** Free space is noted this often, and kept for so long. */
const SAMPLE_EVERY_MS = HOUR
const SAMPLES_MS = 14 * DAY

/** Room on the disk of a folder; null when its file system cannot be asked, which the store then tells by itself. */
export async function diskOf(folder: string): Promise<Disk | null> {
  const stats = await statfs(folder).catch(() => null)
  return stats === null
    ? null
    : { freeBytes: stats.bavail * stats.bsize, totalBytes: stats.blocks * stats.bsize }
}

/** A store that is away is told by itself. */
function untold(error: unknown): null {
  if (!(error instanceof HubError)) throw error
  return null
}

/**
 * What the hub says of itself, for the alarms about it.
 *
 * @param options.broker null before there is one
 * @param options.store state of the intake: down while a store refuses
 * @param options.intake what ingest processes took; null when the hub takes readings itself
 * @param options.setAside databases that were damaged and still lie aside
 * @param options.damaged parts of the readings that were put aside and not settled yet
 */
export function hubFacts(options: {
  readonly dataDir: string
  readonly clock: Clock
  readonly broker: () => FrontState | null
  readonly store: () => FrontState
  readonly intake: () => FrontState | null
  readonly setAside: () => readonly SetAside[]
  readonly damaged: () => Promise<Damaged | null>
  readonly others: () => readonly HubTrouble[]
  /** The clock of the machine was set. */
  readonly onClockSet: (jump: ClockJump) => void
}): () => Promise<HubFacts> {
  const { clock } = options
  const watchClock = clockWatch(clock)
  let clockSetAt = -Infinity
  let samples: readonly DiskSample[] = []

  async function disk(at: number): Promise<HubFacts['disk']> {
    const room = await diskOf(options.dataDir)
    if (room === null) return null
    const { freeBytes, totalBytes } = room
    const last = samples.at(-1)
    if (last === undefined || at - last.at >= SAMPLE_EVERY_MS || at < last.at) {
      const kept = samples.filter((s) => s.at > at - SAMPLES_MS && s.at <= at)
      samples = [...kept, { at, freeBytes }]
    }
    return { freeBytes, totalBytes, fullAt: fullAt(samples) }
  }

  /** Since when it has listened by the clock that holds now: what was before it was set says nothing of that. */
  function since(times: readonly number[]): number {
    const now = clock()
    const known = times.filter((at) => at <= now)
    return known.length === 0 ? now : Math.max(...known)
  }

  return async () => {
    const jump = watchClock()
    if (jump !== null) {
      clockSetAt = jump.at
      options.onClockSet(jump)
    }
    const broker = options.broker()
    const store = options.store()
    const troubles: HubTrouble[] = [...options.others()]
    if (broker !== null && broker.state !== 'up') {
      const sentence =
        broker.problem === null
          ? say`The hub does not reach the broker, so no probe is heard.`
          : say`The hub does not reach the broker, so no probe is heard: ${broker.problem}`
      troubles.push({ subject: 'broker', since: broker.since, sentence })
    }
    if (store.state === 'down') {
      const sentence =
        store.problem === null
          ? say`Readings cannot be stored.`
          : say`Readings cannot be stored: ${store.problem}`
      troubles.push({ subject: 'store', since: store.since, sentence })
    }
    for (const { name, folder, at } of options.setAside()) {
      if (name !== 'readings.db') continue
      const sentence = say`The file of readings was damaged and lies in ${folder}; readings since then go into a new one. Put a backup in place, or take that folder away when you can do without what is in it.`
      troubles.push({ subject: 'store', since: at, sentence })
    }
    const damaged = await options.damaged().catch(untold)
    if (damaged !== null) {
      const sentence = say`Readings were found damaged on the disk (${damaged.readings} of them). They were put aside and are not shown; everything else goes on. Look after the disk. The settings page says which they are and brings them back out of a backup.`
      troubles.push({ subject: 'store', since: damaged.at, sentence })
    }
    const intake = options.intake()
    if (intake !== null && intake.state !== 'up') {
      const sentence =
        intake.problem === null
          ? say`What ingest processes took cannot be read, so no probe is heard.`
          : say`What ingest processes took cannot be read, so no probe is heard: ${intake.problem}`
      troubles.push({ subject: 'intake', since: intake.since, sentence })
    }
    const ways = [broker, store, ...(intake === null ? [] : [intake])]
    const open = ways.flatMap((way) => (way?.state === 'up' ? [way.since] : []))
    return {
      troubles,
      disk: await disk(clock()),
      listeningSince: open.length === ways.length ? since([...open, clockSetAt]) : null,
    }
  }
}
