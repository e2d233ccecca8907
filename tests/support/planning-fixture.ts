import type { z } from 'zod'
import {
  decision as decisionSchema,
  draftAnswer as draftSchema,
  planView as planSchema,
  type Decision,
  type DraftAnswer,
  type PlanView,
  type SourceView,
  type ToldView,
} from '#hub/api/schemas/planning.ts'

const DAY = 86_400_000
const WEEK = 7 * DAY

const source = (change: Partial<SourceView> = {}): SourceView => ({
  id: 'HANDBOOK',
  publisher: 'Invented Gardening Service',
  title: 'Liming small beds',
  year: 2019,
  url: 'https://example.org/liming',
  seen: 'read',
  ...change,
})
const OTHER = source({
  id: 'BULLETIN',
  publisher: 'Invented Soil Office',
  title: 'Soil reaction of vegetable crops, bulletin 12',
  url: null,
  year: null,
})

export function told(change: Partial<ToldView> = {}): ToldView {
  return {
    effect: 'tell',
    sentence: 'The usual order: measure, then bring the pH where it should be, then fertilise.',
    reason: 'What plants can take up of a fertiliser depends on the pH.',
    until: null,
    settle: null,
    sources: [],
    ...change,
  }
}

/** What the fixture asks for before a dose. */
export const ASKS: readonly ToldView[] = [
  told({
    effect: 'ask',
    sentence: 'Before a dose, confirm the pH of Long bed by a laboratory or a slurry.',
    reason: 'Probes in the soil agree among themselves and can still be wrong together.',
    settle: 'sample',
    sources: [source()],
  }),
  told({
    effect: 'ask',
    sentence: 'How strongly Long bed holds its pH is not known: no table covers raised-bed mix.',
    settle: 'jar test',
  }),
  told({
    effect: 'ask',
    sentence:
      'Long bed gets hard water, which is lime: put vinegar on a spoon of its dry soil first.',
    settle: 'vinegar test',
    sources: [OTHER],
  }),
]

/** A course that moves by `change` about a month after `from`, week by week. */
function course(from: number, to: number, base: number, change: number): PlanView['course'] {
  const time: number[] = []
  for (let at = from; at <= to; at += WEEK) time.push(at)
  const share = (at: number): number =>
    1 - Math.exp(-Math.max(0, at - from - 30 * DAY) / (60 * DAY))
  const of = (size: number, doubt: number) => time.map((at) => base + size * share(at) + doubt)
  return {
    time,
    low: of(0.6 * change, -0.08),
    typical: of(change, 0),
    high: of(1.4 * change, 0.08),
  }
}

const stage = (dueAt: number, amountG: number, typical: number) => ({
  dueAt,
  amountG,
  gM2: amountG / 4.5,
  change: { low: 0.6 * typical, typical, high: 1.6 * typical },
  fullFrom: dueAt + 90 * DAY,
  fullBy: dueAt + 365 * DAY,
  retestsAt: [dueAt + 90 * DAY, dueAt + 180 * DAY],
})

const CAUTIONS = [
  { text: 'Lime dust irritates eyes and lungs: do not breathe it in.', source: null },
  { text: 'Put on gloves, goggles and a dust mask; choose a still day.', source: source() },
  { text: 'Follow the product label and your local extension service.', source: null },
]

/** A plan of two portions; `done` of them went on, the newest 200 days ago. */
export function inventedPlan(
  bedId: number,
  now: number,
  { done = 1, ...change }: Partial<PlanView> & { done?: number } = {},
): PlanView {
  const firstAt = now - 200 * DAY
  const seen = Array.from({ length: 210 }, (_, i) => firstAt - 20 * DAY + i * DAY).filter(
    (at) => at < now,
  )
  const entry = (id: number, at: number, amountG: number) => ({
    id,
    bedId,
    at,
    kind: 'treatment' as const,
    material: 'ground limestone',
    amountG,
    waterL: null,
    probe: null,
    ph: null,
    method: null,
    text: '',
  })
  const sample = {
    ...entry(71, firstAt + 100 * DAY, 0),
    kind: 'sample' as const,
    material: null,
    amountG: null,
    ph: 5.9,
    method: 'slurry 1:1' as const,
  }
  const stages: PlanView['stages'] = [
    {
      ...stage(firstAt, 900, 0.35),
      entry: done > 0 ? entry(70, firstAt, 900) : null,
      hasPhoto: done > 0,
      before:
        done > 0
          ? {
              ph: { value: 5.62, low: 5.5, high: 5.74 },
              from: firstAt - 14 * DAY,
              to: firstAt,
              samples: [],
            }
          : null,
      after:
        done > 0
          ? {
              ph: { value: 5.95, low: 5.83, high: 6.07 },
              from: firstAt + 90 * DAY,
              to: now,
              samples: [sample],
            }
          : null,
    },
    {
      ...stage(now - DAY, 640, 0.25),
      entry: null,
      hasPhoto: false,
      before: null,
      after: null,
    },
  ]
  return planSchema.parse({
    id: 5,
    bedId,
    bed: 'Long bed',
    createdAt: firstAt - 3 * DAY,
    material: 'ground-limestone',
    name: 'ground limestone',
    strength: 0.9,
    fromPh: 5.62,
    targetPh: 6.2,
    basis: 'About 586 g of pure lime a square metre moves this bed by one pH.',
    closedAt: null,
    ending: null,
    stages,
    verdict: done > 0 ? 'as expected' : 'not begun',
    measured: done > 0 ? { value: 0.33, low: 0.19, high: 0.47 } : null,
    predicted: done > 0 ? { value: 0.35, low: 0.21, high: 0.56 } : null,
    course: done > 0 ? course(firstAt, now + 300 * DAY, 5.62, 0.6) : null,
    points:
      done > 0
        ? {
            time: seen,
            value: seen.map((at, i) =>
              i % 40 < 2
                ? null
                : 5.62 +
                  (at < firstAt + 30 * DAY
                    ? 0
                    : 0.33 * (1 - Math.exp(-(at - firstAt) / (70 * DAY)))) +
                  0.04 * Math.sin(i),
            ),
          }
        : null,
    next: {
      stage: done,
      dueAt: now - DAY,
      amountG: done > 0 ? 610 : 900,
      sentence: 'Next 610 g on Long bed.',
    },
    stop: null,
    sentence:
      done > 0
        ? 'Long bed has moved by +0.33 pH (+0.19 to +0.47) since the first ground limestone; that is as expected. Next 610 g on Long bed.'
        : 'Nothing has been put on yet. First 900 g on Long bed.',
    causes: [],
    grounds: ['1 portion of 2 put on Long bed.'],
    cautions: CAUTIONS,
    ...change,
  } satisfies z.input<typeof planSchema>)
}

const dose = (typical: number) => ({
  gM2: { low: 0.7 * typical, typical, high: 1.9 * typical },
  bedG: { low: 0.7 * typical * 4.5, typical: typical * 4.5, high: 1.9 * typical * 4.5 },
  steps: [
    'From pH 5.6 to 6.2: 0.58 pH.',
    'One pH of this bed is 586 g of pure lime a square metre over 30 cm: 340 g.',
    `1 g of it is worth 0.90 g of pure lime: ${typical} g a square metre.`,
  ],
})

/** A bed that is too acid, with everything known that a dose needs. */
export function inventedDecision(
  bedId: number,
  now: number,
  change: Partial<Decision> = {},
): Decision {
  return decisionSchema.parse({
    bedId,
    bed: 'Long bed',
    at: now,
    need: {
      verdict: 'raise',
      ph: { value: 5.62, low: 5.41, high: 5.83 },
      days: 14,
      band: { low: 6, high: 6.8 },
      bandSentence: 'For Carrot and Lettuce together: pH 6.0 to 6.8.',
      crops: [
        {
          name: 'Carrot',
          band: { low: 5.8, high: 6.8 },
          published: [
            { low: 5.5, high: 7, group: false, source: source() },
            { low: 6, high: null, group: true, source: OTHER },
          ],
          disagreement: 0.5,
        },
        {
          name: 'Lettuce',
          band: { low: 6, high: 7 },
          published: [{ low: 6, high: 7, group: false, source: OTHER }],
          disagreement: null,
        },
      ],
      target: 6.2,
      change: 0.58,
      confirmation: {
        entryId: 44,
        at: now - 9 * DAY,
        ph: 5.7,
        method: 'slurry 1:1',
        apart: 0.08,
      },
      told: [
        told({
          effect: 'warn',
          sentence: 'One probe of Long bed left the others; see to it before anything is put on.',
          settle: 'calibrate',
        }),
        told(),
      ],
      nutrients: {
        sentence: 'At pH 5.6 something is amiss with phosphorus and molybdenum: the pH first.',
        hard: [
          { name: 'phosphorus', why: 'is bound by iron and aluminium' },
          { name: 'molybdenum', why: 'is held by the soil' },
        ],
        sources: [source()],
      },
      sentence:
        'Long bed is at pH 5.6 (5.4 to 5.8, 14 valid days), below its band 6.0 to 6.8. It takes 0.58 pH up to come to 6.2.',
      grounds: ['Median of the last 14 valid days.'],
    },
    soil: { bulkDensity: null, planting: null, hardWater: null },
    tests: [
      {
        id: 3,
        bedId,
        at: now - 40 * DAY,
        kind: 'vinegar test',
        text: 'From the middle.',
        sentence: 'Under vinegar the soil does not fizz.',
      },
    ],
    buffering: {
      gM2PerPh: { low: 430, typical: 586, high: 840 },
      parts: [
        {
          kind: 'treatments here',
          gM2PerPh: { low: 440, typical: 560, high: 720 },
          weight: 0.72,
          sentence: 'The limestone of last spring moved it by 0.4 pH.',
          sources: [],
        },
        {
          kind: 'texture',
          gM2PerPh: { low: 380, typical: 650, high: 1100 },
          weight: 0.28,
          sentence: 'Tables for loam, for 30 cm.',
          sources: [source(), OTHER],
        },
      ],
      sentence: 'About 586 g of pure lime a square metre moves this bed by one pH over its 30 cm.',
    },
    bufferingMissing: null,
    options: [
      {
        material: 'ground-limestone',
        name: 'ground limestone',
        direction: 'raises',
        verdict: 'possible',
        told: [
          told({
            effect: 'limit',
            sentence: 'Long bed has 0.58 pH to go: in portions of at most 0.5 pH each.',
            sources: [source()],
          }),
        ],
        strength: { low: 0.8, typical: 0.9, high: 1 },
        label: { words: 'calcium carbonate equivalent', perWhole: 1 },
        dose: dose(376),
        most: null,
        expected: 'Raises pH slowly, over months. Farthest after 86 to 136 days (a field trial).',
        cautions: CAUTIONS,
      },
      {
        material: 'wood-ash',
        name: 'wood ash',
        direction: 'raises',
        verdict: 'wait',
        told: [
          told({
            effect: 'wait',
            sentence: 'Nothing caustic at sowing: wait until the seedlings are up.',
            until: now + 30 * DAY,
          }),
        ],
        strength: { low: 0.2, typical: 0.5, high: 0.9 },
        label: { words: 'calcium carbonate equivalent', perWhole: 1 },
        dose: null,
        most: null,
        expected: 'Raises pH, faster than limestone. Caustic when wet.',
        cautions: CAUTIONS,
      },
      {
        material: 'sulfur',
        name: 'elemental sulfur',
        direction: 'lowers',
        verdict: 'refused',
        told: [
          told({ effect: 'refuse', sentence: 'Long bed is too acid: sulfur would make it worse.' }),
        ],
        strength: null,
        label: null,
        dose: null,
        most: null,
        expected: 'Lowers pH within months. Soil life turns it into acid.',
        cautions: CAUTIONS,
      },
    ],
    running: null,
    past: [
      inventedPlan(bedId, now - 500 * DAY, {
        id: 2,
        closedAt: now - 300 * DAY,
        ending: 'reached',
        next: null,
      }),
    ],
    ...change,
  } satisfies z.input<typeof decisionSchema>)
}

/** The same bed before anything is known that a dose needs. */
export function undecided(bedId: number, now: number): Decision {
  const known = inventedDecision(bedId, now)
  return decisionSchema.parse({
    ...known,
    need: { ...known.need, told: [...ASKS, told()], confirmation: null },
    buffering: null,
    bufferingMissing: 'No published table says how strongly raised-bed mix holds its pH.',
    options: known.options.map((option) => ({
      ...option,
      verdict: option.verdict === 'refused' ? 'refused' : 'wait',
      told: option.verdict === 'refused' ? option.told : [ASKS[0]],
      dose: null,
      most: null,
    })),
    tests: [],
    past: [],
  })
}

export function inventedDraft(now: number, strength: number): DraftAnswer {
  const stages = [stage(now + 5 * DAY, 900, 0.35), stage(now + 190 * DAY, 640, 0.2)]
  return draftSchema.parse({
    draft: {
      material: 'ground-limestone',
      name: 'ground limestone',
      strength,
      fromPh: 5.62,
      targetPh: 6.2,
      stages,
      ends: { low: 5.9, typical: 6.17, high: 6.5 },
      course: course(now, now + 560 * DAY, 5.62, 0.55)!,
      told: [told({ sentence: 'Every portion is reckoned anew from what the one before did.' })],
      sentence: `2 portions of ground limestone on Long bed, worth ${strength} g of lime each.`,
      grounds: ['Growing season as is usual: 1 April to 31 October.'],
    },
    refused: [],
  } satisfies z.input<typeof draftSchema>)
}
