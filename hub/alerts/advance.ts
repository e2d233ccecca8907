import type { BedLook } from '../analysis/assessment.ts'
import type { Alarm, AlarmStep } from '../model/alarm.ts'
import { HOUR } from '../model/clock.ts'
import { earlyWarning } from './rules/early-warning.ts'
import { harmfulShift } from './rules/harmful-shift.ts'
import { probeCheck } from './rules/probe-check.ts'
import type { Condition, Rule } from './rules/rule.ts'
import { dry, waterlogged } from './rules/water.ts'

const RULES: readonly Rule[] = [harmfulShift, earlyWarning, probeCheck, dry, waterlogged]

/** A condition must stay over for this long before its alarm returns to normal. */
const OFF_DELAY_MS = HOUR

/** Evidence is rewritten when the change moved by this much, pH, or the sureness by this much. */
const MATERIAL = { change: 0.1, sureness: 0.15 } as const

/**
 * The next state of a bed's alarms. `open`: the alarms of this bed that are not normal. Returns only those
 * that changed and the new ones (id 0).
 *
 * One episode per bed, kind and subject. A condition that is over is noted first (`overSince`) and ends the
 * episode after an hour; if it comes back meanwhile, the episode goes on. A look that cannot tell changes nothing.
 */
export function advance(open: readonly Alarm[], look: BedLook, at: number): readonly AlarmStep[] {
  const changed: AlarmStep[] = []
  const mine = open.filter((alarm) => alarm.bedId === look.bedId && alarm.state !== 'normal')
  const harmful = harmfulShift.arises(look).length > 0
  for (const rule of RULES) {
    const episodes = mine.filter((alarm) => alarm.kind === rule.kind)
    const superseded =
      rule.kind === 'early-warning' &&
      (harmful ||
        mine.some(
          (a) =>
            a.kind === 'harmful-shift' &&
            a.state !== 'returned' &&
            harmfulShift.review(a, look).status === 'holds',
        ))
    for (const alarm of episodes) {
      const next = superseded ? supersede(alarm, at) : reviewed(alarm, rule, look, at)
      if (next !== null) changed.push(next)
    }
    if (superseded) continue
    for (const condition of rule.arises(look)) {
      if (episodes.some((alarm) => alarm.subject === condition.subject)) continue
      changed.push(raised(rule, condition, look, at))
    }
  }
  return changed
}

/** The bed is no longer in use, so nothing can be said of it any more: every open episode ends. */
export function closeForRetired(open: readonly Alarm[], at: number): readonly AlarmStep[] {
  return open
    .filter((alarm) => alarm.state !== 'normal')
    .map((alarm) => closed(alarm, 'the bed was taken out of use.', at))
}

function raised(rule: Rule, condition: Condition, look: BedLook, at: number): AlarmStep {
  return step('raised', at, {
    id: 0,
    bedId: look.bedId,
    kind: rule.kind,
    subject: condition.subject,
    priority: rule.priority,
    state: 'unacknowledged',
    raisedAt: at,
    acknowledgedAt: null,
    returnedAt: null,
    overSince: null,
    shelvedUntil: null,
    changedAt: at,
    evidence: condition.evidence,
    sentence: condition.sentence,
    advice: condition.advice,
  })
}

/** The alarm after a look at it, or null when nothing changed. */
function reviewed(alarm: Alarm, rule: Rule, look: BedLook, at: number): AlarmStep | null {
  const verdict = rule.review(alarm, look)
  switch (verdict.status) {
    case 'unknown':
      return null
    case 'holds':
      return goesOn(alarm, verdict.condition, rule, look, at)
    case 'void':
      return alarm.state === 'returned' ? null : returned(alarm, verdict.sentence, at)
    case 'clear':
      if (alarm.state === 'returned') return null
      if (alarm.overSince === null) return step(null, at, { ...alarm, overSince: at })
      return at - alarm.overSince >= OFF_DELAY_MS ? returned(alarm, rule.returned, at) : null
  }
}

function goesOn(
  alarm: Alarm,
  condition: Condition,
  rule: Rule,
  look: BedLook,
  at: number,
): AlarmStep | null {
  const fresh = { ...alarm, ...condition, overSince: null, changedAt: at }
  if (alarm.state === 'returned') {
    // Only what would raise it anew brings it back; the deadband alone does not.
    const again = rule.arises(look).some(({ subject }) => subject === alarm.subject)
    return again
      ? step('raised', at, {
          ...fresh,
          state: 'unacknowledged',
          returnedAt: null,
          acknowledgedAt: null,
        })
      : null
  }
  return isMaterial(alarm, condition) ? step('changed', at, fresh) : null
}

function isMaterial(alarm: Alarm, condition: Condition): boolean {
  const { evidence: was } = alarm
  const { evidence: is } = condition
  const moved = (a: number | null, b: number | null, by: number): boolean =>
    a === null || b === null ? a !== b : Math.abs(a - b) >= by
  return (
    alarm.overSince !== null ||
    moved(was.change, is.change, MATERIAL.change) ||
    moved(was.sureness, is.sureness, MATERIAL.sureness) ||
    was.journalId !== is.journalId ||
    was.cause !== is.cause ||
    was.causeSettled !== is.causeSettled ||
    alarm.advice !== condition.advice ||
    was.spotsMoved.toSorted().join() !== is.spotsMoved.toSorted().join()
  )
}

/** Back to normal; it stays in sight until acknowledged. */
function returned(alarm: Alarm, sentence: string, at: number): AlarmStep {
  return step('returned', at, {
    ...alarm,
    state: alarm.state === 'acknowledged' ? 'normal' : 'returned',
    returnedAt: at,
    changedAt: at,
    sentence: `${alarm.sentence} Back to normal: ${lowerFirst(sentence)}`,
  })
}

function supersede(alarm: Alarm, at: number): AlarmStep {
  return closed(alarm, 'it has grown into a harmful shift, which has its own alarm.', at)
}

/** The episode is over for another reason than that its condition ended. */
function closed(alarm: Alarm, why: string, at: number): AlarmStep {
  return step('closed', at, {
    ...alarm,
    state: 'normal',
    returnedAt: alarm.returnedAt ?? at,
    overSince: null,
    changedAt: at,
    sentence: `${alarm.sentence} Closed: ${why}`,
  })
}

function step(what: AlarmStep['what'], at: number, alarm: Alarm): AlarmStep {
  return { alarm, at, what, by: null, note: '' }
}

function lowerFirst(sentence: string): string {
  return sentence.charAt(0).toLowerCase() + sentence.slice(1)
}
