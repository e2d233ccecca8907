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

/** Battery as the probe sends it. */
export function batteryWords(probe: ProbeView, units: Units): string {
  const battery = probe.channels.find((channel) => channel.senses === 'bat')
  if (battery === undefined || battery.latest === null) return '–'
  return `${num(battery.latest, 2, units)} ${battery.unit}`
}
