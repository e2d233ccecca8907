import type { Alarm, AlarmKind } from '../model/alarm.ts'

/**
 * One cause gives one alarm: while an alarm of the first kind stands, one of the others about the same bed (or the
 * same probe) is part of it. A jump of the soil carries the bed out of its band; a probe whose battery ended is
 * silent; a broker that is away silences everybody.
 */
const COVERS: Readonly<Partial<Record<AlarmKind, readonly AlarmKind[]>>> = {
  'hub-trouble': ['probe-silent'],
  'probe-silent': ['battery-low', 'calibration-due', 'probe-check'],
  'probe-check': ['calibration-due'],
  'harmful-shift': ['early-warning', 'out-of-band', 'drift-out'],
  'early-warning': ['out-of-band', 'drift-out'],
  'out-of-band': ['drift-out'],
}
/** Those that keep the others from being seen for a while, and say nothing of whether they are over. */
export const PASSING_COVERS: ReadonlySet<AlarmKind> = new Set(['hub-trouble', 'probe-silent'])
/** Parts of the hub whose trouble keeps probes from being heard. */
const DEAFENING: ReadonlySet<string> = new Set(['broker', 'store'])

/** The alarm that stands for one of this kind, bed and subject; null: none does. */
export function coveredBy(
  standing: readonly Alarm[],
  { kind, bedId, subject }: Pick<Alarm, 'kind' | 'bedId' | 'subject'>,
): Alarm | null {
  return (
    standing.find((other) => {
      if (!COVERS[other.kind]?.includes(kind)) return false
      if (other.state === 'normal' || other.state === 'returned') return false
      // Until it is over for good: probes need a while to be heard again.
      if (other.kind === 'hub-trouble') return DEAFENING.has(other.subject)
      // What seems over covers nothing any more.
      if (other.overSince !== null) return false
      return other.bedId === bedId && (other.subject === '' || other.subject === subject)
    }) ?? null
  )
}
