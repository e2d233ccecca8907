import type { ProbeView } from '../../hub/api/schemas/probe.ts'
import type { ProbeLosses } from '../../hub/api/schemas/probe-account.ts'
import { age, num, whole } from './format.ts'
import type { Units } from './format.ts'
import { say } from './say.ts'

const MINUTE = 60_000

/** What a probe is doing, in words. */
export function probeStateWords(probe: ProbeView, now: number): string {
  switch (probe.state) {
    case 'on':
      return say`awake`
    case 'off':
      return say`lost its connection ${age(probe.stateAt, now)}`
    case 'sleep':
      return say`asleep`
    case 'unknown':
      return say`has not said`
  }
}

/**
 * Received power at which a radio link of the usual kinds is still comfortable, and at which messages begin to be
 * repeated, dBm; common practice, no source.
 */
const SIGNAL = { good: -67, weak: -80 } as const

/** Radio signal as the probe sends it, with what it means. */
export function signalWords(probe: ProbeView, units: Units): string {
  const signal = probe.channels.find((channel) => channel.senses === 'rssi')
  if (signal === undefined || signal.latest === null) return '–'
  const figure = `${num(signal.latest, 0, units)} ${signal.unit}`
  if (signal.latest >= SIGNAL.good) return say`${figure}, good`
  return signal.latest <= SIGNAL.weak ? say`${figure}, weak` : say`${figure}, fair`
}

/** When its pH electrode was last in buffers. */
export function calibratedWords(probe: ProbeView, now: number): string {
  const last = probe.calibrations.findLast(({ kind, at }) => kind === 'electrode' && at <= now)
  if (last !== undefined) return age(last.at, now)
  return probe.channels.some(({ senses }) => senses === 'ph.emf' || senses === 'ph')
    ? say`never`
    : '–'
}

/** When it is to be heard again, as far as that can be told. */
export function nextWords(probe: ProbeView, now: number): string {
  const due =
    probe.expectedAt ??
    (probe.intervalS === null ? null : probe.lastSeenAt + probe.intervalS * 1000)
  if (due === null) return say`cannot be told`
  const minutes = Math.round((due - now) / MINUTE)
  if (minutes > 0) return inWords(minutes)
  return minutes < -2 ? overdueWords(-minutes) : say`due now`
}

function inWords(minutes: number): string {
  if (minutes < 120) return say`in ${minutes} min`
  return minutes < 48 * 60
    ? say`in ${Math.round(minutes / 60)} h`
    : say`in ${Math.round(minutes / 60 / 24)} days`
}

function overdueWords(minutes: number): string {
  if (minutes < 120) return say`overdue by ${minutes} min`
  return minutes < 48 * 60
    ? say`overdue by ${Math.round(minutes / 60)} h`
    : say`overdue by ${Math.round(minutes / 60 / 24)} days`
}

/** What a probe lost so far; `lost` null: not known yet. */
export function lossWords(lost: ProbeLosses | null, units: Units): string {
  if (lost === null) return '–'
  const { received, missing, writtenOff } = lost
  if (missing === 0 && writtenOff === 0) return say`none`
  const gone = whole(writtenOff, units)
  const late = whole(missing, units)
  const all = whole(received + missing + writtenOff, units)
  if (missing === 0) return say`${gone} of ${all}`
  return writtenOff === 0
    ? say`${late} of ${all} missing now`
    : say`${gone} of ${all}, and ${late} missing now`
}

/** Battery as the probe sends it. */
export function batteryWords(probe: ProbeView, units: Units): string {
  const battery = probe.channels.find((channel) => channel.senses === 'bat')
  if (battery === undefined || battery.latest === null) return '–'
  return `${num(battery.latest, 2, units)} ${battery.unit}`
}
