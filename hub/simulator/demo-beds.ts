import { DAY } from '../model/clock.ts'
import { ago, daysSinceDayOfYear } from './ago.ts'
import type { ScenarioBed, ScenarioSpot } from './scenario.ts'

const spot = (key: string, name: string, offsetPh: number, gain = 1): ScenarioSpot => ({
  key,
  name,
  offsetPh,
  gain,
})

/** Midsummer, when nobody waters: day of the year and length of the spell. */
const DRY_SPELL_DAY = 196
const DRY_SPELL_DAYS = 19

/** Beds of the demo garden, in the order of a walk through it. */
export function demoBeds(now: number, start: number): readonly ScenarioBed[] {
  const dryFrom = ago(now, daysSinceDayOfYear(now, DRY_SPELL_DAY, 60), 0)
  const drySpell = { from: dryFrom, to: dryFrom + DRY_SPELL_DAYS * DAY }
  const careful = { at: 0.22, keenness: 0.9, refill: 0.9, neglect: [] }
  const easy = { at: 0.3, keenness: 0.75, refill: 0.9, neglect: [drySpell] }
  const common = { ownBand: null, madeAt: start }
  return [
    {
      ...common,
      key: 'kettle',
      name: 'Kettle Bed',
      areaM2: 3.6,
      depthM: 0.35,
      texture: 'loam',
      crops: ['tomato', 'basil'],
      soil: {
        basePh: 6.42,
        driftPhPerYear: -0.04,
        seasonPh: 0.07,
        rainPhPerMm: 0.0035,
        rainDays: 5,
        wobblePh: 0.04,
      },
      habit: easy,
      spots: [
        spot('kettle north', 'North end', 0.08),
        spot('kettle middle', 'Middle', -0.03, 1.05),
        spot('kettle south', 'South end', -0.11, 0.95),
      ],
    },
    {
      ...common,
      key: 'bramble',
      name: 'Bramble Nook',
      areaM2: 2.2,
      depthM: 0.3,
      texture: 'sandy loam',
      crops: ['strawberry'],
      madeAt: ago(now, 384, 8),
      soil: {
        basePh: 6.2,
        driftPhPerYear: -0.06,
        seasonPh: 0.08,
        rainPhPerMm: 0.004,
        rainDays: 4,
        wobblePh: 0.04,
      },
      habit: careful,
      spots: [spot('bramble wall', 'By the wall', 0.1), spot('bramble path', 'By the path', -0.07)],
    },
    {
      ...common,
      key: 'moss',
      name: 'Moss Hollow',
      areaM2: 3,
      depthM: 0.4,
      texture: 'sandy loam',
      crops: ['blueberry_highbush'],
      soil: {
        basePh: 6.25,
        driftPhPerYear: 0,
        seasonPh: 0.05,
        rainPhPerMm: 0.003,
        rainDays: 5,
        wobblePh: 0.035,
      },
      habit: careful,
      spots: [
        spot('moss fern', 'Under the fern', -0.06, 1.05),
        spot('moss stone', 'At the flat stone', 0.04),
        spot('moss back', 'Back row', 0.09, 0.95),
      ],
    },
    {
      ...common,
      key: 'heron',
      name: 'Heron Row',
      areaM2: 5,
      depthM: 0.35,
      texture: 'silt loam',
      crops: ['potato'],
      soil: {
        basePh: 5.56,
        driftPhPerYear: -0.05,
        seasonPh: 0.06,
        rainPhPerMm: 0.003,
        rainDays: 6,
        wobblePh: 0.04,
      },
      habit: careful,
      spots: [
        spot('heron east', 'East end', 0.06, 0.97),
        spot('heron middle', 'Middle', 0.0, 1.03),
        spot('heron west', 'West end', -0.09),
      ],
    },
    {
      ...common,
      key: 'lantern',
      name: 'Lantern Bed',
      areaM2: 2.4,
      depthM: 0.35,
      texture: 'clay loam',
      crops: ['cabbage', 'broccoli'],
      soil: {
        basePh: 5.68,
        driftPhPerYear: -0.03,
        seasonPh: 0.06,
        rainPhPerMm: 0.0025,
        rainDays: 7,
        wobblePh: 0.04,
      },
      habit: careful,
      spots: [
        spot('lantern gate', 'Gate side', 0.07, 1.04),
        spot('lantern hedge', 'Hedge side', -0.08, 0.96),
      ],
    },
    {
      ...common,
      key: 'cricket',
      name: 'Cricket Strip',
      areaM2: 4.5,
      depthM: 0.45,
      texture: 'sandy loam',
      crops: ['asparagus'],
      madeAt: ago(now, 262, 8),
      soil: {
        basePh: 5.72,
        driftPhPerYear: -0.08,
        seasonPh: 0.05,
        rainPhPerMm: 0.004,
        rainDays: 4,
        wobblePh: 0.035,
      },
      habit: { ...careful, refill: 0.8 },
      spots: [
        spot('cricket upper', 'Upper half', -0.05),
        spot('cricket lower', 'Lower half', 0.08),
      ],
    },
    {
      ...common,
      key: 'drizzle',
      name: 'Drizzle Box',
      areaM2: 2.9,
      depthM: 0.3,
      texture: 'raised-bed mix',
      crops: ['lettuce', 'spinach', 'radish'],
      soil: {
        basePh: 6.52,
        driftPhPerYear: -0.02,
        seasonPh: 0.06,
        rainPhPerMm: 0.003,
        rainDays: 5,
        wobblePh: 0.04,
      },
      habit: easy,
      spots: [
        spot('drizzle butt', 'By the water butt', 0.05),
        spot('drizzle path', 'By the path', -0.04),
        spot('drizzle arch', 'Under the arch', -0.02, 1.04),
        spot('drizzle frame', 'In the frame', 0.09, 0.96),
      ],
    },
    {
      ...common,
      key: 'ledge',
      name: 'Sunny Ledge',
      areaM2: 1.6,
      depthM: 0.3,
      texture: 'sandy loam',
      crops: ['lavender', 'rosemary'],
      madeAt: ago(now, 206, 8),
      soil: {
        basePh: 6.98,
        driftPhPerYear: -0.03,
        seasonPh: 0.05,
        rainPhPerMm: 0.003,
        rainDays: 4,
        wobblePh: 0.035,
      },
      habit: careful,
      spots: [spot('ledge only', 'Between the stones', 0)],
    },
  ]
}
