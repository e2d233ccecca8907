import type { AlarmKind } from '../model/alarm.ts'
import { toSay } from '../words/say.ts'

/** What each kind of alarm is called; English texts of the catalogue. */
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
