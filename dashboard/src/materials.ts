/** Materials offered where one is asked for; any other may be typed. */
export const MATERIALS: readonly string[] = [
  'ground limestone',
  'dolomitic limestone',
  'wood ash',
  'elemental sulfur',
  'sphagnum peat',
  'compost',
  'gypsum',
  'ammonium sulfate',
]
