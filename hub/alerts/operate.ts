import type { Alarm, AlarmStep } from '../model/alarm.ts'

/** Who does it, and what they say about it. */
export interface Hand {
  /** Null: somebody without a name. */
  readonly by: string | null
  /** @default '' */
  readonly note?: string
}

/**
 * Somebody has seen the alarm. Acknowledging what has already returned closes the episode; null when there is
 * nothing to acknowledge.
 */
export function acknowledge(alarm: Alarm, at: number, hand: Hand): AlarmStep | null {
  switch (alarm.state) {
    case 'unacknowledged':
      return step('acknowledged', at, hand, {
        ...alarm,
        state: 'acknowledged',
        acknowledgedAt: at,
        changedAt: at,
      })
    case 'returned':
      return step('acknowledged', at, hand, {
        ...alarm,
        state: 'normal',
        acknowledgedAt: at,
        shelvedUntil: null,
        changedAt: at,
      })
    case 'acknowledged':
    case 'normal':
      return null
  }
}

/**
 * Kept out of sight and out of messages until a time; a shelved alarm gets the new end. Null when it is normal or
 * the end is not ahead.
 */
export function shelve(alarm: Alarm, until: number, at: number, hand: Hand): AlarmStep | null {
  if (alarm.state === 'normal' || !(until > at)) return null
  return step('shelved', at, hand, { ...alarm, shelvedUntil: until, changedAt: at })
}

/** Back in sight. Null when it is not shelved. */
export function unshelve(alarm: Alarm, at: number, hand: Hand): AlarmStep | null {
  if (alarm.shelvedUntil === null) return null
  return step('unshelved', at, hand, { ...alarm, shelvedUntil: null, changedAt: at })
}

/** Alarms whose time on the shelf is over. */
export function dueUnshelved(open: readonly Alarm[], at: number): readonly AlarmStep[] {
  return open.flatMap((alarm) =>
    alarm.shelvedUntil !== null && alarm.shelvedUntil <= at
      ? (unshelve(alarm, at, { by: null }) ?? [])
      : [],
  )
}

/** A word about an alarm, open or over. */
export function remark(alarm: Alarm, note: string, at: number, by: string | null): AlarmStep {
  return step('noted', at, { by, note }, alarm)
}

function step(what: AlarmStep['what'], at: number, { by, note }: Hand, alarm: Alarm): AlarmStep {
  return { alarm, at, what, by, note: note ?? '' }
}
