import type { BedLook } from '../analysis/assessment.ts'
import { bandStay } from '../analysis/band-stay.ts'
import { type LookProbe, lookAt } from '../analysis/look.ts'
import { reasonOf } from '../analysis/quality/flags.ts'
import { FLAG } from '../analysis/quality/flags.ts'
import type { WatchEvent } from '../analysis/watch/event.ts'
import { eventsOf } from '../analysis/watch/events-of.ts'
import { type Folding, foldBeds } from '../analysis/watch/fold-beds.ts'
import { peekWatch } from '../analysis/watch/peek-watch.ts'
import type { WatchView } from '../analysis/watch/watch-view.ts'
import type { Alarm } from '../model/alarm.ts'
import type { Spot } from '../model/bed.ts'
import { HOUR } from '../model/clock.ts'
import { advance } from './advance.ts'

/** One bed to be gone through again. */
export interface ReplayBed {
  readonly folding: Folding
  readonly spots: readonly Spot[]
}

/** An alarm that would have been raised, or that would have returned to normal. */
export interface ReplayAlarm {
  readonly bedId: number
  /** Epoch ms: the end of the hour after which it would have been told. */
  readonly at: number
  readonly what: 'raised' | 'returned'
  readonly kind: Alarm['kind']
  readonly subject: string
  readonly sentence: string
}

export interface ReplayResult {
  readonly alarms: readonly ReplayAlarm[]
  /** Events of each bed in the order of notice. */
  readonly events: readonly WatchEvent[]
  readonly hours: number
}

/**
 * Goes through history with the code that watches live: after every closed hour the same look and the same
 * `advance`. What had returned to normal counts as acknowledged, so that a second episode is told again.
 *
 * @param from epoch ms: what was raised earlier is gone through, but not told
 * @param onHour called after every hour, with the share that is done, 0 to 1
 */
export function replay(
  beds: readonly ReplayBed[],
  from: number,
  to: number,
  onHour: (share: number) => void = () => undefined,
): ReplayResult {
  const going = startReplay(beds, from, to, onHour)
  going.goOn(to)
  return going.result()
}

/** A replay on its way. */
export interface Replaying {
  /** Where its first hour begins, epoch ms. */
  readonly start: number
  /** Goes on up to the end of an hour, epoch ms. */
  goOn(until: number): void
  result(): ReplayResult
}

/** The same, to be gone through in pieces: the watch is a left fold, so it goes on where the last piece ended. */
export function startReplay(
  beds: readonly ReplayBed[],
  from: number,
  to: number,
  onHour: (share: number) => void = () => undefined,
): Replaying {
  const alarms: ReplayAlarm[] = []
  const open = beds.map((): Alarm[] => [])
  const events = beds.map(() => new Map<string, WatchEvent>())
  const start = Math.min(...beds.map(({ folding }) => folding.state.cursor))
  let nextId = 1
  let hours = 0
  const goOn = (until: number): void =>
    foldBeds(
      beds.map(({ folding }) => folding),
      until,
      {
        onHour(i, end) {
          hours++
          const { folding, spots } = beds[i]!
          for (const event of eventsOf(folding.state)) events[i]!.set(event.id, event)
          const view = peekWatch(folding.state, [], folding.context, end)
          const look = lookOf(view, folding, spots, end)
          for (const { alarm } of advance(open[i]!, look, end)) {
            const isNew = alarm.id === 0
            const kept = isNew ? { ...alarm, id: nextId++ } : alarm
            const over = kept.state === 'returned' || kept.state === 'normal'
            const known = open[i]!.findIndex(({ id }) => id === kept.id)
            if (known >= 0) open[i]!.splice(known, 1)
            if (!over) open[i]!.push(kept)
            if ((isNew || over) && end >= from) {
              alarms.push({
                bedId: kept.bedId!,
                at: end,
                what: isNew ? 'raised' : 'returned',
                kind: kept.kind,
                subject: kept.subject,
                sentence: kept.sentence,
              })
            }
          }
          onHour((end - start) / (to - start))
        },
      },
    )
  const result = (): ReplayResult => ({
    alarms,
    events: events
      .flatMap((of) => Array.from(of.values()))
      .filter(({ noticedAt }) => noticedAt >= from)
      .toSorted((a, b) => a.noticedAt - b.noticedAt),
    hours,
  })
  return { start, goOn, result }
}

/** What would have been seen at the end of an hour, from the closed hours alone. */
function lookOf(
  view: WatchView,
  { context, state }: Folding,
  spots: readonly Spot[],
  at: number,
): BedLook {
  const probes = view.spots.map((s): LookProbe => {
    const dry = s.watching === 'dry'
    const flags = s.flags | (dry ? FLAG.dry : 0)
    return {
      spotId: s.spotId,
      spot: spots.find(({ id }) => id === s.spotId)?.name ?? `spot ${s.spotId}`,
      probe: s.probe,
      ph: s.usual,
      flags,
      leftOut: s.watching === 'silent' ? 'no reading in the last day' : reasonOf(flags),
      // Whether a calibration was in force is not part of what the watch remembers.
      uncalibrated: false,
    }
  })
  // A probe that has been silent for long is no longer there as far as history tells.
  return lookAt(
    context.bed,
    probes.filter((_, i) => at - view.spots[i]!.lastRow < 30 * 24 * HOUR),
    view,
    at,
    // What lies ahead takes minutes a year: history is gone through without it.
    { stay: bandStay(state, context.bed), ahead: null },
  )
}
