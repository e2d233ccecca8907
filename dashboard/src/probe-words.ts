import type { ProbeView } from '../../hub/api/schemas/probe.ts'
import { age, num } from './format.ts'
import type { Units } from './format.ts'
import { say } from './say.ts'

/** What a probe is doing, in words. */
export function probeStateWords(probe: ProbeView, now: number): string {
  switch (probe.state) {
    case 'on':
      return say`awake`
    case 'off':
      return say`lost its connection ${age(probe.stateAt, now)}`
    case 'sleep': {
      if (probe.expectedAt === null) return say`asleep`
      const minutes = Math.round((probe.expectedAt - now) / 60_000)
      if (minutes < -2) return say`asleep, overdue by ${-minutes} min`
      return minutes < 1 ? say`asleep, due now` : say`asleep, due in ${minutes} min`
    }
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
  const minutes = Math.round((due - now) / 60_000)
  if (minutes > 0) return say`in ${minutes} min`
  return minutes < -2 ? say`overdue by ${-minutes} min` : say`due now`
}

/** Battery as the probe sends it. */
export function batteryWords(probe: ProbeView, units: Units): string {
  const battery = probe.channels.find((channel) => channel.senses === 'bat')
  if (battery === undefined || battery.latest === null) return '–'
  return `${num(battery.latest, 2, units)} ${battery.unit}`
}
