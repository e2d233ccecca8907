import type { Alarm } from '../model/alarm.ts'
import { saidHere } from './everywhere.ts'

/**
 * The alarm with its texts in the manner spoken here, whichever it was raised in. One without texts (of an older hub)
 * stays as it is.
 */
export function alarmSaid(alarm: Alarm): Alarm {
  const text = saidHere(alarm.texts)
  return text === undefined ? alarm : { ...alarm, ...text }
}
