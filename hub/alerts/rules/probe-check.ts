import type { BedLook, ProbeFinding } from '../../analysis/assessment.ts'
import { HOUR } from '../../model/clock.ts'
import { say, toSay } from '../../words/say.ts'
import { probeAdvice } from '../message.ts'
import type { Condition, Rule } from './rule.ts'

/**
 * On-delay: a flat line is one after hours, a probe apart from its bed after the watch saw it so; a value no soil
 * has is told at once. Off-delay: one hour of readings that can be believed.
 */
const OFF_DELAY_MS = HOUR

/** A probe whose pH cannot be believed. One alarm a probe, whatever ails it. */
export const probeCheck: Rule<BedLook> = {
  kind: 'probe-check',
  priority: 'low',
  offDelayMs: OFF_DELAY_MS,
  arises(look) {
    const seen = new Set<string>()
    return look.probes.flatMap((finding) => {
      if (!finding.needsCheck || seen.has(finding.probe)) return []
      seen.add(finding.probe)
      return condition(finding, look.bed)
    })
  },
  review(alarm, look) {
    const finding = look.probes.find((f) => f.needsCheck && f.probe === alarm.subject)
    if (finding !== undefined) {
      return { status: 'holds', condition: condition(finding, look.bed) }
    }
    const views = look.spots.filter(({ probe }) => probe === alarm.subject)
    if (views.length === 0) {
      return {
        status: 'void',
        sentence: say`Probe ${alarm.subject} no longer sits in ${look.bed}.`,
      }
    }
    // Silent or in dry soil: whether it is well again cannot be told.
    return { status: views.some(({ leftOut }) => leftOut === null) ? 'clear' : 'unknown' }
  },
  returned: toSay('The probe reads like a sound one again.'),
}

function condition(finding: ProbeFinding, bed: string): Condition {
  const { from, to, since } = finding
  return {
    subject: finding.probe,
    evidence: {
      from,
      to,
      change: from !== null && to !== null ? to - from : null,
      changeHalfWidth: null,
      since,
      spotsMoved: [finding.spot],
      spotsSteady: [],
      sureness: null,
      journalId: null,
      cause: finding.kind === 'apart from the bed' ? 'probe' : null,
      causeSettled: null,
    },
    sentence: `${bed}: ${finding.sentence}`,
    advice: probeAdvice(finding.kind),
  }
}
