import type { Alarm, AlarmFigure, AlarmStep } from '../model/alarm.ts'
import { said, say } from '../words/say.ts'
import { coveredBy, PASSING_COVERS } from './covers.ts'
import { KIND_WORDS } from './kind-words.ts'
import type { Condition, Look, Rule } from './rules/rule.ts'

/** Evidence is rewritten when the change moved by this much, pH, or the sureness by this much. */
const MATERIAL = { change: 0.1, sureness: 0.15 } as const
/** A figure moved when it did so by this share, or a time by this much, ms. */
const MATERIAL_SHARE = 0.2
const MATERIAL_MS = 6 * 3_600_000
const MATERIAL_PH = 0.1

/** Goes through rules in their order: what one raises covers what the next would. */
export function stepRules<L extends Look>(
  rules: readonly Rule<L>[],
  open: readonly Alarm[],
  isMine: (alarm: Alarm) => boolean,
  look: L,
  at: number,
): readonly AlarmStep[] {
  const steps: AlarmStep[] = []
  let standing = open.filter(({ state }) => state !== 'normal')
  const take = (step: AlarmStep): void => {
    steps.push(step)
    const { alarm } = step
    standing = [...standing.filter(({ id }) => alarm.id === 0 || id !== alarm.id), alarm]
  }
  for (const rule of rules) {
    const episodes = standing.filter((alarm) => alarm.kind === rule.kind && isMine(alarm))
    for (const alarm of episodes) {
      const cover = coveredBy(standing, alarm)
      const next = cover === null ? reviewed(alarm, rule, look, at) : covered(alarm, cover, at)
      if (next !== null) take(next)
    }
    for (const condition of rule.arises(look)) {
      if (episodes.some((alarm) => alarm.subject === condition.subject)) continue
      const alarm = raised(rule, condition, look.bedId, at)
      if (coveredBy(standing, alarm) === null) take(step('raised', at, alarm))
    }
  }
  return steps
}

function raised<L extends Look>(
  rule: Rule<L>,
  condition: Condition,
  bedId: number | null,
  at: number,
): Alarm {
  return {
    id: 0,
    bedId,
    kind: rule.kind,
    subject: condition.subject,
    priority: condition.priority ?? rule.priority,
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
  }
}

/** The alarm after a look at it, or null when nothing changed. */
function reviewed<L extends Look>(
  alarm: Alarm,
  rule: Rule<L>,
  look: L,
  at: number,
): AlarmStep | null {
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
      if (at - (alarm.overSince ?? at) >= rule.offDelayMs) {
        return returned(alarm, said(rule.returned), at)
      }
      return alarm.overSince === null ? step(null, at, { ...alarm, overSince: at }) : null
  }
}

function goesOn<L extends Look>(
  alarm: Alarm,
  condition: Condition,
  rule: Rule<L>,
  look: L,
  at: number,
): AlarmStep | null {
  const { evidence, sentence, advice, priority = rule.priority } = condition
  const fresh: Alarm = {
    ...alarm,
    evidence,
    sentence,
    advice,
    priority,
    overSince: null,
    changedAt: at,
  }
  if (alarm.state === 'returned') {
    // Only what would raise it anew brings it back, in its own words; the deadband alone does not.
    const again = rule.arises(look).find(({ subject }) => subject === alarm.subject)
    if (again === undefined) return null
    return step('raised', at, {
      ...fresh,
      evidence: again.evidence,
      sentence: again.sentence,
      advice: again.advice,
      priority: again.priority ?? rule.priority,
      state: 'unacknowledged',
      returnedAt: null,
      acknowledgedAt: null,
    })
  }
  if (isMaterial(alarm, fresh)) return step('changed', at, fresh)
  return alarm.overSince === null ? null : step(null, at, { ...alarm, overSince: null })
}

/** Whether it is worth a change: what moved by a hair is not. */
function isMaterial(was: Alarm, is: Alarm): boolean {
  const { evidence: a } = was
  const { evidence: b } = is
  const moved = (x: number | null, y: number | null, by: number): boolean =>
    x === null || y === null ? x !== y : Math.abs(x - y) >= by
  return (
    was.priority !== is.priority ||
    moved(a.change, b.change, MATERIAL.change) ||
    moved(a.sureness, b.sureness, MATERIAL.sureness) ||
    a.journalId !== b.journalId ||
    a.cause !== b.cause ||
    a.causeSettled !== b.causeSettled ||
    was.advice !== is.advice ||
    a.spotsMoved.toSorted().join() !== b.spotsMoved.toSorted().join() ||
    haveMoved(a.figures ?? [], b.figures ?? [])
  )
}

function haveMoved(was: readonly AlarmFigure[], is: readonly AlarmFigure[]): boolean {
  if (was.length !== is.length) return true
  return was.some((before) => {
    const now = is.find(({ what }) => what === before.what)
    if (now === undefined) return true
    const by = Math.abs(now.value - before.value)
    if (before.unit === 'pH') return by >= MATERIAL_PH
    if (before.unit === 'at') return by >= MATERIAL_MS * 4
    return by > MATERIAL_SHARE * Math.abs(before.value)
  })
}

/** Back to normal; it stays in sight until acknowledged. */
function returned(alarm: Alarm, why: string, at: number): AlarmStep {
  const state = alarm.state === 'acknowledged' ? 'normal' : 'returned'
  return step('returned', at, {
    ...alarm,
    state,
    returnedAt: at,
    // What is over is not kept on a shelf.
    shelvedUntil: state === 'normal' ? null : alarm.shelvedUntil,
    changedAt: at,
    sentence: `${alarm.sentence} ${say`Back to normal. ${why}`}`,
  })
}

function covered(alarm: Alarm, cover: Alarm, at: number): AlarmStep | null {
  // Closed and raised anew after a day of silence, it would call for somebody who has seen to it already.
  const isSeenTo = alarm.shelvedUntil !== null || alarm.state === 'acknowledged'
  if (isSeenTo && PASSING_COVERS.has(cover.kind)) return null
  const why =
    alarm.kind === 'early-warning' && cover.kind === 'harmful-shift'
      ? say`Closed: it has grown into a harmful shift, which has its own alarm.`
      : say`Closed: another alarm stands for it now (${said(KIND_WORDS[cover.kind])}).`
  return closed(alarm, why, at)
}

/** The episode is over for another reason than that its condition ended. */
export function closed(alarm: Alarm, why: string, at: number): AlarmStep {
  return step('closed', at, {
    ...alarm,
    state: 'normal',
    returnedAt: alarm.returnedAt ?? at,
    overSince: null,
    shelvedUntil: null,
    changedAt: at,
    sentence: `${alarm.sentence} ${why}`,
  })
}

function step(what: AlarmStep['what'], at: number, alarm: Alarm): AlarmStep {
  return { alarm, at, what, by: null, note: '' }
}
