import type { AlarmState } from '../../model/alarm.ts'
import { toSay } from '../../words/say.ts'

export const STATE_WORDS: Readonly<Record<AlarmState, string>> = {
  normal: toSay('over'),
  unacknowledged: toSay('not acknowledged'),
  acknowledged: toSay('acknowledged'),
  returned: toSay('returned to normal, not acknowledged'),
}
