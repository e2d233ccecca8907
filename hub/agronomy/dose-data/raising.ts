import type { Cap, CitedRange, Dosing } from '../dosing.ts'
import { ALWAYS, LIME } from './cautions.ts'

const YEAR = 365.25
const CARBONATE_LABEL = { words: 'calcium carbonate equivalent', perWhole: 1 } as const

/** Printed: up to 10 lb/100 sq ft at once, half a year apart. */
const LIME_CAPS: readonly Cap[] = [
  {
    gM2: 488.243,
    per: 'application',
    when: null,
    source: 'PSU_HG',
    note: 'printed: 10 lb/100 sq ft at once, more of it in portions six months apart; for light soils 2 short ton an acre, 448 g/m2, is printed elsewhere (ALGL)',
  },
  {
    gM2: 244.122,
    per: 'application',
    when: 'standing',
    source: 'MEM',
    note: 'common practice, no source, from memory: 5 lb/100 sq ft at once where it lies on the surface, half of what may be dug in',
  },
  {
    gM2: 976.486,
    per: 'year',
    when: null,
    source: 'CALC',
    note: 'two portions of 10 lb/100 sq ft six months apart',
  },
]

const LIME_WAIT = {
  days: 90,
  source: 'PAGANI2012',
  note: 'highest pH after 86 to 136 days in field plots; the wait itself is judgement',
} as const

const LIME_RETESTS = {
  days: [90, 180, 365],
  source: 'BURBRINK',
  note: 'pH moves over 5 to 6 months; afterwards yearly for three years, then every two or three',
} as const

const LIME_ONSET = {
  low: 30,
  high: 120,
  source: 'CLEM_FALL',
  note: 'three to four months to change; in the first weeks only a part',
} as const

const LIME_RISE: CitedRange = {
  low: 30,
  typical: 45,
  high: 90,
  source: 'CALC',
  note: 'such that most of the rise is there by the day field plots were highest',
}

const LIME_HALF_LIFE: CitedRange = {
  low: 1.5 * YEAR,
  typical: 4 * YEAR,
  high: 8 * YEAR,
  source: 'CALC',
  note: '0.8 pH at a loss of 0.1 a year is gone in eight years',
}

export const GROUND_LIMESTONE: Dosing = {
  slug: 'ground-limestone',
  acts: {
    low: 0.8,
    typical: 0.9,
    high: 1,
    source: 'MEM',
    note: 'bagged limestone is 80 to 100 % of pure carbonate (UNL_CCE: pure is 100); the label says. In soil it was seen to do 73 % of that (UGA_LBC_THESIS): left out, so that the first portions rather fall short',
  },
  label: CARBONATE_LABEL,
  caps: LIME_CAPS,
  wait: LIME_WAIT,
  onset: LIME_ONSET,
  peak: {
    low: 86,
    typical: 136,
    high: 365,
    source: 'PAGANI2012',
    note: 'printed: fine pure carbonate 86 days, farm limestone 136; 6 to 12 months to the full (UNH_ASH)',
  },
  rise: LIME_RISE,
  halfLife: LIME_HALF_LIFE,
  leastSoilC: null,
  retests: LIME_RETESTS,
  cautions: [
    ...LIME,
    {
      text: 'Work it into the top of the bed before planting: left on the surface it takes years to sink in.',
      source: 'RHS_LIME',
    },
    ...ALWAYS,
  ],
}

export const DOLOMITIC_LIMESTONE: Dosing = {
  ...GROUND_LIMESTONE,
  slug: 'dolomitic-limestone',
  acts: {
    low: 0.95,
    typical: 1.02,
    high: 1.09,
    source: 'FERT_ACID',
    note: 'printed: 95 to 109 % of pure carbonate; the middle of it',
  },
  peak: {
    low: 86,
    typical: 129,
    high: 365,
    source: 'PAGANI2012',
    note: 'printed: 129 days; as for limestone otherwise',
  },
  cautions: [
    {
      text: 'It adds magnesium: only where a soil test does not already show plenty of it.',
      source: 'MEM',
    },
    ...GROUND_LIMESTONE.cautions,
  ],
}

export const HYDRATED_LIME: Dosing = {
  slug: 'hydrated-lime',
  acts: {
    low: 1.1,
    typical: 1.35,
    high: 1.35,
    source: 'CLEM_BYPROD',
    note: 'printed: at least 110 %; pure 135 % (UNL_CCE), taken as usual because too little does less harm',
  },
  label: CARBONATE_LABEL,
  caps: [
    {
      gM2: 180.65,
      per: 'application',
      when: null,
      source: 'CALC',
      note: 'half the limestone figure times 0.74; judgement, no published maximum was seen',
    },
    {
      gM2: 180.65,
      per: 'year',
      when: null,
      source: 'CALC',
      note: 'judgement: not twice in a year',
    },
  ],
  wait: { ...LIME_WAIT, note: 'as for limestone; judgement' },
  onset: { low: 0, high: 14, source: 'MEM', note: 'dissolves at once; no source' },
  peak: { low: 14, typical: 30, high: 60, source: 'MEM', note: 'half a month to two; no source' },
  rise: { low: 2, typical: 7, high: 20, source: 'MEM', note: 'no source' },
  halfLife: { low: YEAR, typical: 2 * YEAR, high: 3 * YEAR, source: 'MEM', note: 'no source' },
  leastSoilC: null,
  retests: { days: [30, 90, 365], source: 'MEM', note: 'no source' },
  cautions: [
    {
      text: 'Not advised in a garden: it burns skin, eyes and lungs. Ground limestone does the same, slower and safer.',
      source: 'OSU_HYDLIME',
    },
    {
      text: 'Caustic, above all when wet: sealed goggles, long sleeves, dust mask; rinse splashes for many minutes and get medical help for the eyes.',
      source: 'OSHA_CAOH2',
    },
    {
      text: 'Never near ammonium fertiliser or manure: ammonia gas would come off.',
      source: 'MEM',
    },
    { text: 'Never where plants grow, and weeks before sowing or planting.', source: 'MEM' },
    { text: 'It easily moves the pH further than meant.', source: 'MEM' },
    ...ALWAYS,
  ],
}

export const WOOD_ASH: Dosing = {
  slug: 'wood-ash',
  acts: {
    low: 0.14,
    typical: 0.5,
    high: 0.9,
    source: 'ASH_AGP2',
    note: 'printed: 8 to 90 %; 14 to 56 % (ASH_MAINE), 50 to 75 % (ASH1991), 60 % (FERT_ACID); the low end of the narrower one, the middle is judgement',
  },
  label: CARBONATE_LABEL,
  caps: [
    {
      gM2: 97.6486,
      per: 'year',
      when: null,
      source: 'ASH1991',
      note: 'printed: 20 lb/1000 sq ft a year',
    },
  ],
  wait: { days: 90, source: 'MEM', note: 'as for limestone; no source' },
  onset: { low: 1, high: 30, source: 'UNH_ASH', note: 'faster than limestone; days from memory' },
  peak: { low: 30, typical: 60, high: 90, source: 'MEM', note: 'one to three months; no source' },
  rise: { low: 5, typical: 15, high: 30, source: 'MEM', note: 'no source' },
  halfLife: { low: 0.5 * YEAR, typical: YEAR, high: 2 * YEAR, source: 'MEM', note: 'no source' },
  leastSoilC: null,
  retests: { days: [30, 90, 365], source: 'MEM', note: 'no source' },
  cautions: [
    { text: 'Wet ash makes lye, which burns: gloves, goggles, mask.', source: 'ASH_ASK' },
    {
      text: 'Only where the pH is below 7, and not near potatoes or acid-loving plants.',
      source: 'ASH1991',
    },
    {
      text: 'Its salt and boron harm germinating seed and young plants: weeks before sowing or planting, and off the leaves.',
      source: 'ASH1991',
    },
    {
      text: 'Only cold ash of clean, untreated wood: painted or treated wood leaves heavy metals, which stay in what you eat.',
      source: 'MEM',
    },
    {
      text: 'Never near ammonium fertiliser or manure: ammonia gas would come off.',
      source: 'MEM',
    },
    ...ALWAYS,
  ],
}
