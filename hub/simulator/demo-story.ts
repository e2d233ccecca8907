import { SECOND } from '../model/clock.ts'
import { ago } from './ago.ts'
import { demoPlanning } from './demo-planning.ts'
import type { Sampling, Scenario, ScenarioNote, Treatment } from './scenario.ts'

/** Slurry in water reads a little higher than soil in place (common practice, no source). */
const SLURRY_OFFSET_PH = 0.15

/** What people did in the demo garden, and what is about to happen in it. */
export function demoStory(
  now: number,
): Pick<
  Scenario,
  'treatments' | 'events' | 'samplings' | 'notes' | 'soils' | 'plans' | 'settings' | 'liveEvent'
> {
  const sulfur = { lagDays: 21, riseHalfDays: 75, returnHalfDays: 1100 }
  const treatments: Treatment[] = [
    {
      bed: 'lantern',
      at: ago(now, 426, 10),
      material: 'ground limestone',
      amountG: 1050,
      text: 'About 440 g on each square metre, forked in a hand deep on a still day, gloves and mask on.',
      response: { peakPh: 0.95, lagDays: 12, riseHalfDays: 32, returnHalfDays: 820 },
    },
    {
      bed: 'moss',
      at: ago(now, 490, 10),
      material: 'elemental sulfur',
      amountG: 140,
      text: 'First half of the sulfur for the blueberries, raked in before the mulch.',
      response: { ...sulfur, peakPh: -0.42 },
    },
    {
      bed: 'moss',
      at: ago(now, 300, 10),
      material: 'elemental sulfur',
      amountG: 140,
      text: 'Second half of the sulfur. Next look in half a year.',
      response: { ...sulfur, peakPh: -0.38 },
    },
    {
      bed: 'drizzle',
      at: ago(now, 281, 11),
      material: 'wood ash',
      amountG: 200,
      text: 'Sieved ash, under 70 g on each square metre, weeks before sowing. Gloves and glasses: it is caustic when wet.',
      response: { peakPh: 0.22, lagDays: 1, riseHalfDays: 7, returnHalfDays: 210 },
    },
    {
      bed: 'kettle',
      at: ago(now, 233, 10),
      material: 'compost',
      amountG: 14_000,
      text: 'Four buckets of garden compost, two fingers deep.',
      response: { peakPh: 0.05, lagDays: 5, riseHalfDays: 25, returnHalfDays: 260 },
    },
    {
      bed: 'ledge',
      at: ago(now, 190, 10),
      material: 'grit',
      amountG: 20_000,
      text: 'Washed grit around the lavender for drainage.',
      response: null,
    },
  ]
  const laboratory = (bed: string, days: number, text: string): Sampling => ({
    bed,
    at: ago(now, days, 12),
    method: 'laboratory',
    offsetPh: SLURRY_OFFSET_PH,
    scatterPh: 0.08,
    text,
  })
  const hand = (bed: string, days: number, text: string): Sampling => ({
    bed,
    at: ago(now, days, 17),
    method: 'slurry 1:2',
    offsetPh: SLURRY_OFFSET_PH,
    scatterPh: 0.12,
    text,
  })
  const samplings = [
    laboratory('lantern', 440, 'Sent ten cores, mixed. Came back sour: limestone advised.'),
    laboratory('lantern', 245, 'Half a year after the limestone, ten cores.'),
    hand('lantern', 96, 'One part soil, two parts rainwater, read after half an hour.'),
    laboratory('moss', 497, 'Ten cores before the first sulfur.'),
    hand('moss', 305, 'Before the second half of the sulfur.'),
    hand('moss', 118, 'Still a little high for the blueberries.'),
    hand('moss', 19, 'Before the third portion: nearly there.'),
    laboratory('cricket', 250, 'First sample of the new bed.'),
    hand('cricket', 61, 'Sourer than asparagus likes. Wait for the winter before liming.'),
    hand('cricket', 23, 'Once more from ten places, mixed, before anything is bought.'),
    hand('kettle', 150, 'To compare with the probes.'),
    hand('heron', 204, 'Before the seed potatoes went in.'),
    hand('drizzle', 262, 'Three weeks after the ash.'),
  ]
  const note = (bed: string, days: number, text: string): ScenarioNote => ({
    bed,
    at: ago(now, days, 18),
    text,
  })
  const notes = [
    note('bramble', 384, 'New bed filled, two probes in.'),
    note(
      'bramble',
      116,
      'Bramble 1 had crept up for three months; fine again after cleaning and buffers.',
    ),
    note('cricket', 262, 'Asparagus crowns in, two probes with them.'),
    note(
      'drizzle',
      121,
      'Moved Drizzle 2 from the path to the arch: the path side is always trodden.',
    ),
    note(
      'heron',
      89,
      'Heron 2 was out of reach for days; the gatepost shades its aerial. Raised it.',
    ),
    note(
      'kettle',
      52,
      'Kettle 2 showed one and the same number for days. Loose plug, pushed home.',
    ),
    note('ledge', 206, 'Herb ledge built up, one probe is enough here.'),
    note('moss', 148, 'Moss 3 had an empty battery.'),
    note(
      'lantern',
      12,
      'Lantern 2 was silent over the afternoon and sent the rest in the evening.',
    ),
  ]
  return {
    treatments,
    events: [],
    samplings,
    notes,
    ...demoPlanning(now),
    liveEvent: {
      event: { bed: 'heron', changePh: 1.5, rampMs: 25 * SECOND, returnHalfDays: 400 },
      story:
        'A torn bag of hydrated lime was left on the edge above Heron Row, and the rain has washed it in.',
    },
  }
}
