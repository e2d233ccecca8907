import { HOUR, MINUTE } from '../../model/clock.ts'
import { said, say, toSay } from '../../words/say.ts'
import type { ProbeLook } from '../probe-look.ts'
import { NO_CHANGE } from './no-change.ts'
import type { Condition, Rule, Verdict } from './rule.ts'

/**
 * On-delay: so many readings in a row are missing. One is lost to a bad moment of the radio, three are not
 * (common practice, no source).
 */
const MISSED = 3
/** However often it measures: a reboot of the access point takes some minutes. */
const LEAST_MS = 30 * MINUTE
/** Off-delay: it must have gone on sending for so long. */
const OFF_DELAY_MS = 30 * MINUTE

/** When the next reading is due, epoch ms: by its interval, or by what it said before it slept. */
export function awaitedAt(look: ProbeLook): number {
  const last = look.lastAt ?? look.placedAt
  return Math.max(last + look.intervalMs, look.backAt ?? -Infinity)
}

/**
 * No reading for three intervals beyond the last one, or two beyond the time it said it would be back. The
 * broker's notice that it left is not enough: probes that sleep leave all the time.
 */
export function isSilent(look: ProbeLook): boolean {
  if (look.bedId === null || look.listeningSince === null) return false
  const heard = Math.max(awaitedAt(look), look.listeningSince + look.intervalMs)
  return look.at - heard >= Math.max(LEAST_MS, (MISSED - 1) * look.intervalMs)
}

export const probeSilent: Rule<ProbeLook> = {
  kind: 'probe-silent',
  priority: 'medium',
  offDelayMs: OFF_DELAY_MS,
  arises: (look) => (isSilent(look) ? [condition(look)] : []),
  review(_, look): Verdict {
    if (look.listeningSince === null) return { status: 'unknown' }
    if (isSilent(look)) return { status: 'holds', condition: condition(look) }
    // Deadband: late by less than three readings neither raises nor ends it.
    const isHeard = look.lastAt !== null && look.at < awaitedAt(look)
    return { status: isHeard ? 'clear' : 'unknown' }
  },
  returned: toSay('The probe sends readings again.'),
}

function condition(look: ProbeLook): Condition {
  const { name, spot, bed, lastAt, intervalMs } = look
  const minutes = Math.max(1, Math.round(intervalMs / MINUTE))
  const hours = Math.round(intervalMs / HOUR)
  const every =
    minutes < 90 && minutes !== 60
      ? minutes === 1
        ? say`every minute`
        : say`every ${minutes} minutes`
      : hours === 1
        ? say`every hour`
        : say`every ${hours} hours`
  return {
    subject: look.probe,
    evidence: {
      ...NO_CHANGE,
      since: lastAt ?? look.placedAt,
      spotsMoved: [spot],
      figures: [
        { what: 'interval', value: intervalMs, halfWidth: null, unit: 'ms' },
        { what: 'awaited-at', value: awaitedAt(look), halfWidth: null, unit: 'at' },
      ],
    },
    sentence:
      lastAt === null
        ? say`${bed}: probe ${name} (${spot}) has not sent a single reading since it was placed there.`
        : say`${bed}: probe ${name} (${spot}) is silent. It should send ${every}; three readings or more are missing.`,
    advice: said(look.supply.told.includes(true) ? LOW_ADVICE : ADVICE),
  }
}

const ADVICE = toSay(
  'See whether it has power and reaches the network: charge or change the battery, look at the plug and antenna, then restart it. Readings it kept meanwhile arrive by themselves. Unplug mains-powered parts before touching anything wet.',
)
const LOW_ADVICE = toSay(
  'Its battery was low when it was last heard: charge or change it first, then restart the probe. Readings it kept meanwhile arrive by themselves. Unplug mains-powered parts before touching anything wet.',
)
