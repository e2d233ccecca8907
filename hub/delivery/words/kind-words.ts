import type { AlarmKind, AlarmState } from '../../model/alarm.ts'
import { toSay } from '../../words/say.ts'

export const KIND_WORDS: Readonly<Record<AlarmKind, string>> = {
  'harmful-shift': toSay('Harmful shift'),
  'early-warning': toSay('Early warning'),
  'drift-out': toSay('Drifting out of its band'),
  'out-of-band': toSay('Out of its band'),
  dry: toSay('Dry soil'),
  waterlogged: toSay('Waterlogged'),
  'probe-check': toSay('Probe check'),
  'probe-silent': toSay('Probe silent'),
  'calibration-due': toSay('Calibration due'),
  'battery-low': toSay('Battery low'),
  'hub-trouble': toSay('Trouble of the hub'),
}

export const STATE_WORDS: Readonly<Record<AlarmState, string>> = {
  normal: toSay('over'),
  unacknowledged: toSay('not acknowledged'),
  acknowledged: toSay('acknowledged'),
  returned: toSay('returned to normal, not acknowledged'),
}
