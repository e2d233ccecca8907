import type { Dosing } from '../dosing.ts'
import { ALWAYS, SALT } from './cautions.ts'

const YEAR = 365.25
/** g of calcium carbonate that the acid of 1 g of sulfur uses up, as rounded in the trade. */
const PER_SULFUR = 3.12

const NOT_WITH_LIME = {
  text: 'Not within half a year of lime or ash: the two cancel and leave salt.',
  source: 'MEM',
} as const

export const SULFUR: Dosing = {
  slug: 'sulfur',
  acts: {
    low: 0.85 * PER_SULFUR,
    typical: 0.9 * PER_SULFUR,
    high: PER_SULFUR,
    source: 'CALC',
    note: '3.12 by formula masses for pure sulfur; granules are about 90 % (from memory); the label says',
  },
  label: { words: 'sulfur content', perWhole: PER_SULFUR },
  caps: [
    {
      gM2: 34.177,
      per: 'year',
      when: 'standing',
      source: 'EXT_BLUE',
      note: 'printed for established blueberries, on the surface: 0.7 lb/100 sq ft a year',
    },
    {
      gM2: 48.8243,
      per: 'application',
      when: 'cool',
      source: 'CLEM_ACID',
      note: 'printed: 5 to 10 lb/1000 sq ft, two to three months apart; the upper figure',
    },
    {
      gM2: 97.6486,
      per: 'application',
      when: null,
      source: 'ISU_NAFEX',
      note: 'printed: 2 lb/100 sq ft at once, then at least three months',
    },
    {
      gM2: 112.0851,
      per: 'year',
      when: null,
      source: 'UME254',
      note: 'printed: 1000 lb an acre a year',
    },
  ],
  wait: {
    days: 90,
    source: 'ISU_NAFEX',
    note: 'printed: at least three months; two to three (CLEM_ACID)',
  },
  onset: {
    low: 42,
    high: 90,
    source: 'AGRO_S',
    note: 'soil life needs six to eight weeks; two to three months (CLEM_ACID); longer below 15 degrees',
  },
  peak: {
    low: 90,
    typical: 270,
    high: 365,
    source: 'PUR_AKERS',
    note: 'printed: 3 to 6 months; 3 to 12 (CLEM_ACID); the middle allows for a cold half of the year',
  },
  rise: {
    low: 50,
    typical: 110,
    high: 250,
    source: 'CALC',
    note: 'oxidation seen in 70 days at 30 degrees, brought to 20 by 85 kJ/mol (WATKINSON1993)',
  },
  halfLife: {
    low: 1.5 * YEAR,
    typical: 3 * YEAR,
    high: 6 * YEAR,
    source: 'CALC',
    note: 'wild blueberry fields began to rise again after 5 to 6 years (UME254)',
  },
  leastSoilC: {
    value: 10,
    source: 'WATKINSON1993',
    note: 'oxidation follows a steep law of temperature; the limit itself is judgement',
  },
  retests: {
    days: [90, 180, 365],
    source: 'UT_BLUE',
    note: 'printed: again after three months; afterwards yearly',
  },
  cautions: [
    { text: 'Irritates eyes, skin and airways.', source: 'NPIC_S' },
    {
      text: 'On leaves it burns in the heat: only on days below 24 °C (75 °F), and rinse leaves at once.',
      source: 'CLEM_ACID',
    },
    {
      text: 'Not on waterlogged ground: poisonous hydrogen sulfide could form there.',
      source: 'UME254',
    },
    { text: 'The dust burns: no flame, sparks or smoking near it.', source: 'MEM' },
    {
      text: 'No use in soil with free lime: test it with vinegar first.',
      source: 'RHS_ACID',
    },
    NOT_WITH_LIME,
    ...ALWAYS,
  ],
}

const QUICK_RETESTS = {
  days: [30, 60, 180],
  source: 'UMN_FE',
  note: 'printed: portions one to two months apart, with a test between; later from memory',
} as const

export const IRON_SULFATE: Dosing = {
  slug: 'iron-sulfate',
  acts: {
    low: PER_SULFUR / 8.67,
    typical: PER_SULFUR / 8.67,
    high: PER_SULFUR / 6,
    source: 'CALC',
    note: 'printed: 8 (RHS_ACID) or 6 (ILL_ALUM) times as much as sulfur; 8.67 times by formula masses of the salt with seven waters, taken as usual',
  },
  // 100.09/55.845: one iron, once it has oxidised, sets free as much acid as one carbonate neutralises.
  label: { words: 'iron content', perWhole: 1.792 },
  caps: [
    {
      gM2: 244.1215,
      per: 'application',
      when: null,
      source: 'REEVES_FE',
      note: 'printed: 5 lb/100 sq ft at once; 7 lb, 342 g/m2, elsewhere (UMN_FE)',
    },
    {
      gM2: 488.243,
      per: 'year',
      when: null,
      source: 'REEVES_FE',
      note: 'printed: 5 lb/100 sq ft twice, six months apart, for about one pH a year',
    },
  ],
  wait: {
    days: 45,
    source: 'UMN_FE',
    note: 'printed: portions one to two months apart; the middle',
  },
  onset: { low: 7, high: 30, source: 'MEM', note: 'no source' },
  peak: { low: 14, typical: 30, high: 60, source: 'MEM', note: 'one to two months; no source' },
  rise: { low: 5, typical: 14, high: 30, source: 'MEM', note: 'no source' },
  halfLife: {
    low: 0.5 * YEAR,
    typical: YEAR,
    high: 2 * YEAR,
    source: 'MEM',
    note: 'less than sulfur, because nothing is left to act later; no source',
  },
  leastSoilC: null,
  retests: QUICK_RETESTS,
  cautions: [
    {
      text: 'Harmful if swallowed, and small children take it for sweets: lock it away.',
      source: 'MEM',
    },
    { text: 'Leaves rust stains on paving and clothes.', source: 'MEM' },
    ...SALT,
    NOT_WITH_LIME,
    ...ALWAYS,
  ],
}

export const ALUMINUM_SULFATE: Dosing = {
  slug: 'aluminum-sulfate',
  acts: {
    low: PER_SULFUR / 6.93,
    typical: PER_SULFUR / 6.93,
    high: 0.505,
    source: 'CALC',
    note: '6.93 times as much as sulfur by formula masses with eighteen waters; printed 6.9 (ILL_ALUM); with fourteen waters it is stronger',
  },
  // 1.5 x 100.09/26.982: one aluminum sets free half as much acid again as one carbonate neutralises.
  label: { words: 'aluminum content', perWhole: 5.564 },
  caps: [
    {
      gM2: 244.1215,
      per: 'application',
      when: null,
      source: 'ALUM5',
      note: 'printed in a weak source: 5 lb/100 sq ft',
    },
    {
      gM2: 244.1215,
      per: 'year',
      when: null,
      source: 'MEM',
      note: 'judgement: not twice in a year, aluminum stays in the soil',
    },
  ],
  wait: { days: 45, source: 'MEM', note: 'as for iron sulfate; no source' },
  onset: { low: 0, high: 7, source: 'PUR_AKERS', note: 'printed: at once' },
  peak: { low: 1, typical: 14, high: 30, source: 'MEM', note: 'within a month; no source' },
  rise: { low: 1, typical: 5, high: 14, source: 'MEM', note: 'no source' },
  halfLife: { low: 0.5 * YEAR, typical: YEAR, high: 2 * YEAR, source: 'MEM', note: 'no source' },
  leastSoilC: null,
  retests: { ...QUICK_RETESTS, source: 'MEM', note: 'as for iron sulfate; no source' },
  cautions: [
    {
      text: 'Aluminum poisons roots: extension services keep it to hydrangeas.',
      source: 'ILL_ALUM',
    },
    { text: 'Not where food grows.', source: 'MEM' },
    ...SALT,
    NOT_WITH_LIME,
    ...ALWAYS,
  ],
}

export const AMMONIUM_SULFATE: Dosing = {
  slug: 'ammonium-sulfate',
  acts: {
    low: 1.1,
    typical: 1.1,
    high: 1.51,
    source: 'FERT_ACID',
    note: 'printed: 110 lb of carbonate cancel the acid of 100 lb; 5.4 for each of nitrogen (CROPFILE_N); 1.51 by formula masses where no plant takes it up',
  },
  label: { words: 'nitrogen content', perWhole: 5.4 },
  caps: [
    {
      gM2: 49,
      per: 'application',
      when: null,
      source: 'MEM',
      note: 'about 10 g of nitrogen on a square metre; judgement',
    },
    {
      gM2: 98,
      per: 'year',
      when: null,
      source: 'MEM',
      note: 'about 20 g of nitrogen on a square metre in a year; judgement',
    },
  ],
  wait: { days: 90, source: 'MEM', note: 'until it has done what it does; no source' },
  onset: { low: 14, high: 60, source: 'MEM', note: 'no source' },
  peak: { low: 30, typical: 90, high: 180, source: 'MEM', note: 'one to six months; no source' },
  rise: { low: 14, typical: 30, high: 60, source: 'MEM', note: 'no source' },
  halfLife: { low: 0.5 * YEAR, typical: YEAR, high: 2 * YEAR, source: 'MEM', note: 'no source' },
  leastSoilC: null,
  retests: { days: [90, 180, 365], source: 'MEM', note: 'no source' },
  cautions: [
    {
      text: 'It is a nitrogen fertiliser first: leave out other nitrogen, and give none late in the season.',
      source: 'MEM',
    },
    {
      text: 'Never together with lime, hydrated lime or ash: ammonia gas would come off.',
      source: 'MEM',
    },
    ...SALT,
    ...ALWAYS,
  ],
}
