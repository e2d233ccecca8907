import type { AlarmKind } from '../../../../hub/model/alarm.ts'
import { ALARM_WORDS } from '../../format.ts'

export type { AlarmKind }
/** Every kind of alarm, in the order of the table of their words. */
export const ALARM_KINDS = Object.keys(ALARM_WORDS) as readonly AlarmKind[]
