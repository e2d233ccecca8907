import { toSay } from './say.ts'

/** Materials offered where one is asked for, by names that the hub knows in every language; any other may be typed. */
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
