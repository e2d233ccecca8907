import { DAY, HOUR, MINUTE, SECOND } from '../model/clock.ts'
import type { Fault } from '../simulator/faults.ts'

/** A fault as it was asked for on the command line. */
export interface AskedFault {
  /** Number of the probe from 1; null: every probe. */
  readonly probe: number | null
  /** The fault, with times counted from the start of the run, ms. */
  readonly fault: Fault
}

const UNITS: Readonly<Record<string, number>> = { s: SECOND, m: MINUTE, h: HOUR, d: DAY }
const FIRST_MS = MINUTE
/** What is expected, for messages and the help. */
export const FAULT_FORM =
  'KIND[:PROBE][@START[+LENGTH]][=SIZE], such as outage:2@1m+90s or step@30s=0.8'
export const FAULT_KINDS: Readonly<Record<string, string>> = {
  outage: 'nothing gets through; it measures on and sends the rest afterwards',
  'no-power': 'nothing is measured; it starts anew afterwards',
  'flat-line': 'the electrode repeats one value',
  step: 'the electrode jumps by SIZE pH (0.8)',
  drift: 'the electrode runs away by SIZE pH in 30 days (0.3)',
}

/** A length of time such as 90s, 5m, 2h, 1d; ms. Null when it is none. */
export function durationOf(text: string): number | null {
  const match = /^(\d+(?:\.\d+)?)([smhd])$/.exec(text)
  return match === null ? null : Math.round(Number(match[1]) * UNITS[match[2]!]!)
}

/** @returns the fault, or what is wrong with the text */
export function readFault(text: string, probes: number): AskedFault | { readonly problem: string } {
  const match = /^([a-z-]+)(?::(\d+))?(?:@([^+=]+)(?:\+([^=]+))?)?(?:=(-?\d+(?:\.\d+)?))?$/.exec(
    text,
  )
  const wrong = (what: string): { readonly problem: string } => ({
    problem: `expected a fault as ${FAULT_FORM}, got '${text}': ${what}`,
  })
  if (match === null) return wrong('it does not have that form')
  const [, kind = '', number, start, length, size] = match
  if (!(kind in FAULT_KINDS)) {
    return wrong(`the kinds are ${Object.keys(FAULT_KINDS).join(', ')}`)
  }
  const probe = number === undefined ? null : Number(number)
  if (probe !== null && (probe < 1 || probe > probes)) {
    return wrong(`there are probes 1 to ${probes}`)
  }
  const from = start === undefined ? FIRST_MS : durationOf(start)
  const lasts = length === undefined ? Infinity : durationOf(length)
  if (from === null || lasts === null) return wrong('times are such as 90s, 5m, 2h or 1d')
  const span = { from, to: from + lasts }
  switch (kind) {
    case 'outage':
      return { probe, fault: { kind: 'outage', ...span, hubAway: false } }
    case 'no-power':
      return { probe, fault: { kind: 'no power', ...span } }
    case 'flat-line':
      return { probe, fault: { kind: 'flat line', ...span } }
    case 'step':
      return { probe, fault: { kind: 'step', ...span, changePh: Number(size ?? 0.8) } }
    default:
      return { probe, fault: { kind: 'drift', ...span, phPer30d: Number(size ?? 0.3) } }
  }
}
