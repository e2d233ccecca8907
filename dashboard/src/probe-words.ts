import type { ProbeView } from '../../hub/api/schemas/probe.ts'
import { age, num } from './format.ts'
import type { Units } from './format.ts'

/** What a probe is doing, in words. */
export function probeStateWords(probe: ProbeView, now: number): string {
  switch (probe.state) {
    case 'on':
      return 'awake'
    case 'off':
      return `lost its connection ${age(probe.stateAt, now)}`
    case 'sleep': {
      if (probe.expectedAt === null) return 'asleep'
      const minutes = Math.round((probe.expectedAt - now) / 60_000)
      if (minutes < -2) return `asleep, overdue by ${-minutes} min`
      return minutes < 1 ? 'asleep, due now' : `asleep, due in ${minutes} min`
    }
    case 'unknown':
      return 'has not said'
  }
}

/** Battery as the probe sends it. */
export function batteryWords(probe: ProbeView, units: Units): string {
  const battery = probe.channels.find((channel) => channel.senses === 'bat')
  if (battery === undefined || battery.latest === null) return '–'
  return `${num(battery.latest, 2, units)} ${battery.unit}`
}
