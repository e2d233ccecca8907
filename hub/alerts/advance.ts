import type { BedLook } from '../analysis/assessment.ts'
import type { Alarm, AlarmStep } from '../model/alarm.ts'
import { say } from '../words/say.ts'
import type { HubLook } from './hub-look.ts'
import type { ProbeLook } from './probe-look.ts'
import { batteryLow } from './rules/battery-low.ts'
import { calibrationDue } from './rules/calibration-due.ts'
import { driftOut } from './rules/drift-out.ts'
import { earlyWarning } from './rules/early-warning.ts'
import { harmfulShift } from './rules/harmful-shift.ts'
import { hubTrouble } from './rules/hub-trouble.ts'
import { outOfBand } from './rules/out-of-band.ts'
import { probeCheck } from './rules/probe-check.ts'
import { probeSilent } from './rules/probe-silent.ts'
import { dry, waterlogged } from './rules/water.ts'
import { closed, stepRules } from './step-rules.ts'

// What may cover another comes before it (see `coveredBy`).
const BED_RULES = [harmfulShift, earlyWarning, outOfBand, driftOut, probeCheck, dry, waterlogged]
const PROBE_RULES = [probeSilent, batteryLow, calibrationDue]
const PROBE_KINDS: ReadonlySet<string> = new Set(PROBE_RULES.map(({ kind }) => kind))

/**
 * What becomes of a bed's alarms. `open`: every alarm of the garden that is not normal. Returns only those that
 * changed and the new ones (id 0), with what happened to each.
 *
 * One episode per bed, kind and subject. A condition that is over is noted first (`overSince`) and ends the
 * episode after the rule's off-delay; if it comes back meanwhile, the episode goes on. A look that cannot tell changes
 * nothing. What another alarm covers is closed, and not raised.
 */
export function advance(open: readonly Alarm[], look: BedLook, at: number): readonly AlarmStep[] {
  const kinds = new Set<string>(BED_RULES.map(({ kind }) => kind))
  return stepRules(
    BED_RULES,
    open,
    (alarm) => alarm.bedId === look.bedId && kinds.has(alarm.kind),
    look,
    at,
  )
}

/** The same for what a probe says of itself. Where it sits in no bed any more, its alarms end. */
export function advanceProbe(open: readonly Alarm[], look: ProbeLook): readonly AlarmStep[] {
  const { at, probe, bedId } = look
  const own = open.filter(
    (alarm) => PROBE_KINDS.has(alarm.kind) && alarm.subject === probe && alarm.state !== 'normal',
  )
  const left = own.flatMap((alarm) =>
    alarm.bedId === bedId && bedId !== null
      ? []
      : closed(
          alarm,
          bedId === null
            ? say`Closed: the probe sits in no bed any more.`
            : say`Closed: the probe sits in another bed now.`,
          at,
        ),
  )
  if (bedId === null) return left
  return [
    ...left,
    ...stepRules(
      PROBE_RULES,
      open,
      (alarm) => alarm.bedId === bedId && own.includes(alarm),
      look,
      at,
    ),
  ]
}

/** The same for the hub itself. */
export function advanceHub(open: readonly Alarm[], look: HubLook): readonly AlarmStep[] {
  return stepRules([hubTrouble], open, ({ kind }) => kind === 'hub-trouble', look, look.at)
}

/** The bed is no longer in use, so nothing can be said of it any more: every open episode ends. */
export function closeForRetired(open: readonly Alarm[], at: number): readonly AlarmStep[] {
  return open
    .filter((alarm) => alarm.state !== 'normal')
    .map((alarm) => closed(alarm, say`Closed: the bed was taken out of use.`, at))
}
