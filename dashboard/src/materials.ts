import { toSay } from './say.ts'

/** Materials offered where one is asked for, by the names the hub keeps; any other may be typed. */
export const MATERIALS: readonly string[] = [
  toSay('ground limestone'),
  toSay('dolomitic limestone'),
  toSay('wood ash'),
  toSay('elemental sulfur'),
  toSay('sphagnum peat'),
  toSay('compost'),
  toSay('gypsum'),
  toSay('ammonium sulfate'),
]
