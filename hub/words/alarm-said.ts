import type { Alarm } from '../model/alarm.ts'
import { mannerName } from '../model/manner.ts'
import { manner } from './say.ts'

/**
 * The alarm with its texts in the manner spoken here, whichever it was raised in. One without texts (of an older hub)
 * stays as it is.
 */
export function alarmSaid(alarm: Alarm): Alarm {
  const { language, units } = manner()
  const text =
    alarm.texts?.[mannerName({ language, units })] ??
    alarm.texts?.[mannerName({ language, units: 'metric' })]
  return text === undefined ? alarm : { ...alarm, ...text }
}
