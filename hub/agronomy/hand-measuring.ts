import type { SampleMethod } from '../model/journal.ts'
import { said } from '../words/say.ts'

/** How many spots of a bed are measured by hand when nothing better is known. */
export const HAND_SPOTS = {
  /** Standard deviation among spots of a bed nobody has measured, pH; judgement, it leads to the usual ten to fifteen. */
  usualSd: 0.3,
  /** From so many values on the spots' own spread counts. */
  ownSpreadFrom: 3,
  /** Cores by the area: 5 to 10 on 100 square feet. */
  perArea: { low: 5, high: 10, areaM2: 9.290304, source: 'CCE_SAMPLE' },
  /** Of the formula for their number. */
  source: 'EPA_SAMPLING',
} as const

/** pH in water less pH in 0.01 M calcium chloride: about 0.6, of most soils between these. */
export const WATER_LESS_CACL2 = {
  about: 0.6,
  low: 0.5,
  high: 1,
  sources: ['UGA_LBC', 'KISSEL2009', 'SOILSENSE'],
} as const

/** One step of a session; `waitS` starts a timer. */
export interface HandStep {
  readonly title: string
  readonly text: string
  /** Water is poured on: which kind is told with it. */
  readonly distilled?: true
  readonly waitS: number | null
}
export interface HandProtocol {
  readonly methods: readonly SampleMethod[]
  readonly sources: readonly string[]
  readonly steps: readonly HandStep[]
}

export const DISTILLED =
  'Distilled or deionised water only: tap water is mostly alkaline and shifts a light soil by tenths.'

/** The usual ways of measuring by hand, spot by spot; common practice where no source is named. */
export const HAND_PROTOCOLS: readonly HandProtocol[] = [
  {
    methods: ['hand meter'],
    sources: ['MEM', 'EPA9045'],
    steps: [
      {
        title: 'Clear the spot',
        text: 'Push the mulch aside and take off the top 2 to 3 cm (an inch) of soil.',
        waitS: null,
      },
      {
        title: 'Mix',
        text: 'Loosen and mix the soil down to 15 cm (6 in); take out stones and roots.',
        waitS: null,
      },
      {
        title: 'Wet it',
        text: 'Pour on water until the soil is as wet as a wrung-out sponge.',
        distilled: true,
        waitS: null,
      },
      {
        title: 'Push the meter in and wait one minute',
        text: 'As deep as its maker says, the soil pressed against it.',
        waitS: 60,
      },
      {
        title: 'Read and write down',
        text: 'Then wipe the meter, rinse it with distilled water and go to the next spot.',
        waitS: null,
      },
    ],
  },
  {
    methods: ['slurry 1:1', 'slurry 1:2', 'slurry CaCl2'],
    sources: ['EPA9045', 'MEM'],
    steps: [
      {
        title: 'Take the soil',
        text: 'Push the mulch aside, take off the top 2 to 3 cm (an inch), mix down to 15 cm (6 in) and take 20 g (0.7 oz) without stones and roots.',
        waitS: null,
      },
      {
        title: 'Pour on',
        text: '1:1: 20 mL (0.7 fl oz) of water; 1:2: 40 mL (1.4 fl oz) of water; CaCl2: 40 mL (1.4 fl oz) of 0.01 M calcium chloride.',
        distilled: true,
        waitS: null,
      },
      {
        title: 'Stir and let it stand 15 minutes',
        text: 'Stir well before and after.',
        waitS: 900,
      },
      {
        title: 'Read and write down',
        text: 'With a meter calibrated today. Rinse it with distilled water before the next jar.',
        waitS: null,
      },
    ],
  },
]

/** What a step says, in the language spoken. */
export function handStepText({ text, distilled }: HandStep): string {
  return distilled === true ? `${said(text)} ${said(DISTILLED)}` : said(text)
}
