import type {
  BedQuality,
  Comparison,
  EffectAnswer,
  EventView,
  Findings,
} from '#hub/api/schemas/findings.ts'
import type { BedSeries } from '#hub/api/schemas/bed.ts'
import type { Trial, TrialPlan } from '#hub/api/schemas/trial.ts'

const HOUR = 3_600_000
const DAY = 24 * HOUR
const WEEK = 7 * DAY

const days = (from: number, to: number, step: number): number[] => {
  const all: number[] = []
  for (let d = from; d <= to; d += step) all.push(d)
  return all
}
const round = (x: number): number => Math.round(x * 100) / 100
/** A small unrest that is the same at every run. */
const unrest = (i: number): number => 0.05 * Math.sin(i * 2.399) + 0.03 * Math.cos(i * 5.1)
const interval = (value: number, half: number) => ({
  value,
  low: round(value - half),
  high: round(value + half),
})

const none = (need: string) =>
  ({ status: 'insufficient', have: '23 days of one spot', need }) as const

export function inventedEvent(now: number, change: Partial<EventView> = {}): EventView {
  return {
    id: 'step-soil-1',
    form: 'step',
    onset: now - 4 * DAY,
    noticedAt: now - 4 * DAY + 3 * HOUR,
    cause: 'soil',
    firstCause: 'soil',
    decidedAt: now - 3 * DAY + 3 * HOUR,
    size: 1.13,
    halfWidth: 0.14,
    present: 1.08,
    state: 'open',
    endedAt: null,
    spots: [
      { spotId: 1, spot: 'north end', probe: 'fern1', before: 6.38, change: 1.17, moved: true },
      { spotId: 2, spot: 'middle', probe: 'fern2', before: 6.44, change: 1.1, moved: true },
      { spotId: 3, spot: 'south end', probe: 'fern3', before: 6.31, change: 0.05, moved: false },
    ],
    journalId: null,
    withinPlan: null,
    otherBeds: [],
    sentence:
      'pH rose by 1.13 within hours: most likely the soil itself, as two of three spots moved.',
    grounds: [
      'two of three spots that can be compared moved the same way',
      'no calibration, service or handling within two days',
      'moisture stayed within what is usual for the hour',
    ],
    advice:
      'Check by hand before you put anything on: a slurry of soil from two places, then what was poured or spread here.',
    ...change,
  }
}

/** The course of a treatment: rises within weeks, goes back over months. */
const course = (d: number, peak: number, rise: number, half: number): number =>
  d <= 0 ? 0 : peak * (1 - Math.exp(-d / rise)) * 2 ** (-Math.max(0, d - 3 * rise) / half)

export function inventedAnswer(
  at: number,
  now: number,
  change: Partial<EffectAnswer> = {},
): EffectAnswer {
  const seen = Math.floor((now - at) / DAY)
  const weeks = days(-84, seen, 7)
  const curve = days(-84, seen, 7)
  const value = curve.map((d) => round(course(d, 0.78, 24, 240)))
  return {
    question: 'above where it was',
    verdict: 'effect',
    controls: [],
    onsetDays: { value: 9, low: 2, high: 17 },
    peakDays: { value: 71, low: 52, high: 98 },
    peak: interval(0.71, 0.12),
    present: interval(0.49, 0.15),
    halfLife: { kind: 'known', days: { value: 236, low: 171, high: 342 }, early: false },
    notLargerThan: null,
    halfBackAt: at + 307 * DAY,
    curve: {
      time: curve.map((d) => at + d * DAY),
      value,
      low: value.map((v, i) => round(v - 0.05 - 0.0006 * i * 7)),
      high: value.map((v, i) => round(v + 0.05 + 0.0006 * i * 7)),
    },
    points: {
      time: weeks.map((d) => at + d * DAY),
      value: weeks.map((d, i) =>
        i % 17 === 5 ? null : round(course(d, 0.78, 24, 240) + unrest(i)),
      ),
    },
    sentence:
      'It rose by 0.71 above where it was, highest 71 days after it was put on; half of that lasts about 236 days.',
    grounds: [
      '38 weekly values',
      'season taken off with one yearly wave',
      'one treatment within reach',
    ],
    ...change,
  }
}

/** What is found about a well-watched bed with three spots. All of it is invented. */
export function inventedFindings(bedId: number, now: number): Findings {
  const limed = now - 260 * DAY
  const sulfur = now - 96 * DAY
  const ahead = days(0, 180, 5)
  const middle = (d: number): number => 6.42 - 0.0021 * d
  const wide = (d: number): number => 0.06 + 0.031 * Math.sqrt(d)
  const quantile = (z: number) => ahead.map((d) => round(middle(d) + z * wide(d)))
  return {
    bedId,
    at: now,
    studiedAt: now - 5 * HOUR,
    learning: null,
    noise: [
      { probe: 'fern1', spot: 'north end', sd: 0.06, falsePerYear: 0 },
      { probe: 'fern2', spot: 'middle', sd: 0.11, falsePerYear: 0.1 },
      { probe: 'fern3', spot: 'south end', sd: 0.17, falsePerYear: 4.8 },
    ],
    events: [
      inventedEvent(now, {
        id: 'step-fern3-2',
        onset: now - 9 * HOUR,
        noticedAt: now - 5 * HOUR,
        cause: 'probe',
        firstCause: 'probe',
        decidedAt: null,
        size: -0.62,
        halfWidth: 0.19,
        present: -0.6,
        spots: [
          { spotId: 1, spot: 'north end', probe: 'fern1', before: 7.5, change: 0.02, moved: false },
          { spotId: 2, spot: 'middle', probe: 'fern2', before: 7.52, change: -0.01, moved: false },
          {
            spotId: 3,
            spot: 'south end',
            probe: 'fern3',
            before: 6.35,
            change: -0.62,
            moved: true,
          },
        ],
        sentence:
          'The probe at the south end fell by 0.62 while the others stayed: most likely the probe.',
        grounds: ['one of three spots moved', 'the two others stayed within 0.02'],
        advice: 'Look at its cable and its seat, then check it in a buffer.',
      }),
      inventedEvent(now),
      inventedEvent(now, {
        id: 'ramp-lime-3',
        form: 'ramp',
        onset: limed + 5 * DAY,
        noticedAt: limed + 16 * DAY,
        cause: 'treatment',
        firstCause: 'soil',
        decidedAt: limed + 17 * DAY,
        size: 0.68,
        halfWidth: 0.11,
        present: 0.47,
        state: 'kept',
        endedAt: limed + 40 * DAY,
        journalId: 1,
        withinPlan: true,
        otherBeds: ['Fern bed'],
        sentence:
          'pH rose by 0.68 over eleven days: most likely the ground limestone of five days before.',
        grounds: ['all three spots moved', 'ground limestone raises pH within weeks'],
        advice: 'Within what one treatment should do. Nothing more is needed.',
      }),
      inventedEvent(now, {
        id: 'step-rain-4',
        onset: now - 131 * DAY,
        noticedAt: now - 131 * DAY + 6 * HOUR,
        cause: 'water',
        firstCause: 'water',
        decidedAt: now - 130 * DAY,
        size: -0.44,
        halfWidth: 0.12,
        present: null,
        state: 'recovered',
        endedAt: now - 124 * DAY,
        otherBeds: ['Fern bed', 'Sill bed'],
        sentence: 'pH fell by 0.44 with 38 mm of rain and came back within a week.',
        grounds: ['moisture rose by a third of field capacity', 'two other beds fell within a day'],
        advice: 'Rain does this; nothing to do.',
      }),
      inventedEvent(now, {
        id: 'step-service-5',
        onset: now - 152 * DAY,
        noticedAt: now - 152 * DAY + 17 * HOUR,
        cause: 'service',
        firstCause: 'service',
        decidedAt: now - 151 * DAY,
        size: 0.31,
        halfWidth: 0.08,
        present: null,
        state: 'kept',
        endedAt: now - 151 * DAY,
        sentence: 'The probe in the middle stood 0.31 higher after its calibration.',
        grounds: ['a calibration was logged three hours before'],
        advice: 'Nothing to do.',
      }),
      inventedEvent(now, {
        id: 'step-dry-6',
        onset: now - 190 * DAY,
        noticedAt: now - 190 * DAY + 9 * HOUR,
        cause: 'dry contact',
        firstCause: 'water',
        decidedAt: now - 189 * DAY,
        size: -0.81,
        halfWidth: 0.3,
        present: null,
        state: 'recovered',
        endedAt: now - 186 * DAY,
        sentence: 'The north end read 0.81 lower while its soil was too dry to carry an electrode.',
        grounds: ['a quarter of the available water was left'],
        advice: 'Water it and wait two days before you believe its pH.',
      }),
    ],
    spots: {
      effective: 2.4,
      halfWidth: 0.24,
      needed: 4,
      outlying: { spot: 'south end', by: -0.28 },
      sentence:
        'Three spots give ± 0.24 pH; one more would give ± 0.2. The south end lies 0.28 lower than the rest.',
    },
    trend: {
      status: 'ok',
      perYear: { value: -0.11, low: -0.19, high: -0.03 },
      verdict: 'falling',
      from: now - 540 * DAY,
      to: now,
      weeks: 74,
      seasonSwing: 0.21,
      seasonHighestDay: 41,
      sentence: 'With the season taken off, the bed falls by 0.11 pH a year.',
      grounds: [
        '74 weeks of bed values',
        'weeks next to each other resemble each other (0.42), which widens the interval',
      ],
    },
    electrodes: [
      {
        probe: 'fern1',
        spot: 'north end',
        per30Days: interval(0.03, 0.09),
        verdict: 'steady',
        sinceCalibrationDays: 34,
        sentence: 'No drift of fern1 beyond what its neighbours show.',
        grounds: ['34 days since its calibration'],
      },
      {
        probe: 'fern3',
        spot: 'south end',
        per30Days: interval(0.21, 0.12),
        verdict: 'electrode drifts',
        sinceCalibrationDays: 88,
        sentence: 'fern3 drifts upwards by 0.21 a month; calibrate it.',
        grounds: ['88 days since its calibration', 'the two neighbours did not follow'],
      },
      {
        probe: 'fern2',
        spot: 'middle',
        per30Days: null,
        verdict: 'cannot tell',
        sinceCalibrationDays: 12,
        sentence: 'fern2 was calibrated 12 days ago: too short to tell.',
        grounds: [],
      },
    ],
    samples: [
      {
        method: 'laboratory 1:1',
        pairs: 4,
        offset: -0.21,
        sentence:
          '4 samples by laboratory 1:1 lie 0.21 pH below the probes (their median). They agree with that to within 0.12.',
      },
    ],
    effects: [
      {
        journalId: 1,
        at: limed,
        material: 'ground limestone',
        amountG: 900,
        expected:
          'raises pH within weeks to months and lasts for years (invented here; the hub names its source)',
        answers: [
          inventedAnswer(limed, now),
          inventedAnswer(limed, now, {
            question: 'advantage over untreated',
            controls: ['Fern bed'],
            peak: interval(0.66, 0.1),
            present: interval(0.58, 0.14),
            halfLife: { kind: 'at least', days: 410 },
            halfBackAt: null,
            sentence:
              'It stands 0.66 higher than the untreated bed at its best; the advantage has not turned: half of it lasts at least 410 days.',
          }),
        ],
      },
      {
        journalId: 2,
        at: sulfur,
        material: 'pine needles',
        amountG: null,
        expected: 'no lasting effect on pH is known (invented here)',
        answers: [
          inventedAnswer(sulfur, now, {
            verdict: 'no measurable effect',
            onsetDays: null,
            peakDays: null,
            peak: null,
            present: interval(-0.02, 0.11),
            halfLife: { kind: 'unknown', reason: 'there is no effect to lose' },
            notLargerThan: 0.13,
            halfBackAt: null,
            curve: null,
            points: {
              time: days(-84, 96, 7).map((d) => sulfur + d * DAY),
              value: days(-84, 96, 7).map((_, i) => round(unrest(i))),
            },
            sentence: 'No measurable effect: none larger than 0.13 pH.',
            grounds: ['26 weekly values'],
          }),
          inventedAnswer(sulfur, now, {
            question: 'advantage over untreated',
            verdict: 'insufficient',
            onsetDays: null,
            peakDays: null,
            peak: null,
            present: null,
            halfLife: { kind: 'unknown', reason: 'no untreated bed was watched at the time' },
            halfBackAt: null,
            curve: null,
            points: null,
            sentence: 'Cannot be said: no untreated bed was watched at the time.',
            grounds: [],
          }),
        ],
      },
    ],
    forecast: {
      status: 'ok',
      time: ahead.map((d) => now + d * DAY),
      q05: quantile(-1.64),
      q25: quantile(-0.67),
      q50: quantile(0),
      q75: quantile(0.67),
      q95: quantile(1.64),
      band: { low: 6, high: 6.8 },
      leaves: { edge: 'low', median: null, earliest: now + 92 * DAY, latest: null },
      chances: [
        { days: 30, outside: 0.02 },
        { days: 90, outside: 0.12 },
        { days: 180, outside: 0.41 },
      ],
      sentence:
        'It will most likely stay within its band for half a year, with two chances in five of falling below it.',
    },
    inBand: {
      status: 'ok',
      from: now - 200 * DAY,
      to: now,
      share: { value: 0.83, low: 0.76, high: 0.88 },
      inside: 151,
      below: 8,
      above: 23,
      unknown: 18,
      longestOutside: { from: now - 140 * DAY, to: now - 123 * DAY, side: 'above' },
      sentence: 'It was within its band on 83 % of the known days this year.',
    },
    water: {
      state: 'moist',
      since: now - 3 * DAY,
      depletionMm: interval(11.4, 3.2),
      readilyAvailableMm: 18.2,
      refillL: interval(51.3, 14.4),
      daysUntilDry: { value: 2.4, low: 1.3, high: 4.1 },
      lastWettingAt: now - 5 * DAY,
      sentence: 'Moist: 11 of the 18 mm are gone that the crops can take without feeling it.',
      grounds: [
        'FAO-56: readily available water is a share of the available water',
        'loam, worked 30 cm deep',
      ],
      spots: [
        {
          spotId: 1,
          spot: 'north end',
          probe: 'fern1',
          available: 0.71,
          fieldCapacity: 0.68,
          fieldCapacityFrom: 'learned from 14 wettings',
        },
        {
          spotId: 2,
          spot: 'middle',
          probe: 'fern2',
          available: 0.66,
          fieldCapacity: 0.61,
          fieldCapacityFrom: 'learned from 11 wettings',
        },
        {
          spotId: 3,
          spot: 'south end',
          probe: 'fern3',
          available: null,
          fieldCapacity: 0.31,
          fieldCapacityFrom: 'table value for loam, until it has seen three wettings',
        },
      ],
    },
  }
}

/** The same question asked of a young bed with one spot that stands under water: hardly anything can be said. */
export function rareFindings(bedId: number, now: number): Findings {
  return {
    bedId,
    at: now,
    studiedAt: null,
    learning: none('three accepted days of one hour at least in every two'),
    noise: [{ probe: 'sill1', spot: 'middle', sd: null, falsePerYear: null }],
    events: [
      inventedEvent(now, {
        id: 'step-one-1',
        onset: now - 30 * HOUR,
        noticedAt: now - 20 * HOUR,
        cause: 'unconfirmed',
        firstCause: 'unconfirmed',
        decidedAt: null,
        size: 0.72,
        present: 0.7,
        spots: [
          { spotId: 9, spot: 'middle', probe: 'sill1', before: 5.9, change: 0.72, moved: true },
        ],
        sentence:
          'The only probe rose by 0.72: soil and electrode cannot be told apart with one spot.',
        grounds: ['one spot in the bed'],
        advice: 'A second probe, a buffer check or a slurry of the soil would tell.',
      }),
    ],
    spots: {
      effective: 1,
      halfWidth: 0.39,
      needed: 4,
      outlying: null,
      sentence: 'One spot gives ± 0.39 pH; four would give ± 0.2.',
    },
    trend: {
      ...none('65 weeks, to tell a trend from the season'),
      sentence: 'Too short to separate from the season.',
      grounds: [],
    },
    electrodes: [
      {
        probe: 'sill1',
        spot: 'middle',
        per30Days: null,
        verdict: 'cannot tell',
        sinceCalibrationDays: null,
        sentence: 'One spot, never calibrated: nothing to hold it against.',
        grounds: ['no calibration'],
      },
    ],
    samples: [],
    effects: [],
    forecast: {
      ...none('120 days of bed values'),
      sentence: 'Nothing can be said yet about what lies ahead.',
    },
    inBand: { ...none('30 known days'), sentence: 'Too few days are known.' },
    water: {
      state: 'waterlogged',
      since: now - 2 * DAY,
      depletionMm: { value: 0, low: null, high: 2.1 },
      readilyAvailableMm: 18.2,
      refillL: null,
      daysUntilDry: null,
      lastWettingAt: now - 2 * DAY,
      sentence: 'Waterlogged for two days: roots lack air. Do not water; see that it can drain.',
      grounds: ['moisture above field capacity for 48 hours'],
      spots: [
        {
          spotId: 9,
          spot: 'middle',
          probe: 'sill1',
          available: 1,
          fieldCapacity: 0.64,
          fieldCapacityFrom: 'table value for loam',
        },
      ],
    },
  }
}

/** A pH history that shows what `inventedFindings` tells: lime, a wet week, a step four days ago. */
export function inventedSeries(
  bedId: number,
  quantity: BedSeries['quantity'],
  asked: { readonly from: number; readonly to: number },
  now: number,
): BedSeries {
  const first = Math.max(asked.from, now - 540 * DAY)
  const step = Math.max(HOUR, Math.round((asked.to - asked.from) / 600 / HOUR) * HOUR)
  const time: number[] = []
  for (let at = first; at <= Math.min(asked.to, now); at += step) time.push(at)
  const ph = (at: number): number => {
    const d = (at - now) / DAY
    const lime = course(d + 260, 0.78, 24, 240)
    const rain = d > -131 && d < -124 ? -0.4 * Math.exp((-131 - d) / 3) : 0
    return (
      5.95 +
      lime +
      rain +
      0.1 * Math.cos((2 * Math.PI * (d - 41)) / 365) +
      unrest(at / HOUR) +
      (d > -4 ? 0.72 : 0)
    )
  }
  const others = {
    ph,
    moisture: (at: number) => 0.5 + 2 * unrest(at / WEEK),
    temperature: () => 14,
  }
  const value = time.map((at) => round(others[quantity](at)))
  return {
    bedId,
    quantity,
    unit: quantity === 'ph' ? 'pH' : '1',
    from: asked.from,
    to: asked.to,
    stepMs: step,
    time,
    value,
    low: value.map((v) => round(v - 0.12)),
    high: value.map((v) => round(v + 0.12)),
    min: value,
    max: value,
    spots: [],
  }
}

export function inventedPlan(change: Partial<TrialPlan> = {}): TrialPlan {
  return {
    status: 'ok',
    daysNeeded: 98,
    bedsNeeded: 2,
    spotsNeeded: 3,
    detectable: [
      { days: 30, effect: 0.52 },
      { days: 60, effect: 0.38 },
      { days: 120, effect: 0.27 },
      { days: 365, effect: 0.16 },
    ],
    sentence: 'With these beds an effect of 0.3 pH would show within about 98 days.',
    grounds: [
      'day-to-day unrest of the two beds against each other: 0.11 pH',
      'power 0.8, two sides, 5 %',
    ],
    ...change,
  }
}

export function inventedTrials(now: number): Trial[] {
  const base = {
    direction: 'lowers',
    leastEffect: 0.3,
    treated: [{ id: 1, name: 'Long bed' }],
    untreated: [{ id: 2, name: 'Fern bed' }],
    givenUpAt: null,
    plan: inventedPlan(),
  } as const
  return [
    {
      ...base,
      id: 1,
      claim: 'pine needles make the soil sour',
      material: 'pine needles',
      treated: [...base.treated],
      untreated: [...base.untreated],
      startsAt: now - 96 * DAY,
      endsAt: now + 24 * DAY,
      result: {
        verdict: 'no measurable effect',
        effect: interval(-0.02, 0.11),
        notLargerThan: 0.13,
        early: true,
        sentence:
          'So far no measurable effect: none larger than 0.13 pH. It was looked at before its end.',
        grounds: ['13 weekly differences of differences'],
      },
    },
    {
      ...base,
      id: 2,
      claim: 'wood ash sweetens the soil',
      material: 'wood ash',
      direction: 'raises',
      treated: [...base.treated],
      untreated: [...base.untreated],
      startsAt: now - 420 * DAY,
      endsAt: now - 240 * DAY,
      result: {
        verdict: 'supported',
        effect: { value: 0.47, low: 0.31, high: 0.66 },
        notLargerThan: null,
        early: false,
        sentence: 'Wood ash raised the pH by 0.47 more than in the untreated bed.',
        grounds: ['26 weekly differences of differences'],
      },
    },
  ]
}

export function inventedComparison(): Comparison {
  return {
    rows: [
      {
        material: 'ground limestone',
        treatments: 2,
        peak: { value: 0.71, low: 0.59, high: 0.84 },
        halfLifeDays: { value: null, low: 410, high: null },
        beds: ['Long bed', 'Fern bed'],
        sentence: 'Two treatments in two beds; the advantage has not turned in either.',
      },
      {
        material: 'wood ash',
        treatments: 1,
        peak: { value: 0.47, low: 0.31, high: 0.66 },
        halfLifeDays: { value: 95, low: 61, high: 148 },
        beds: ['Fern bed'],
        sentence: 'One treatment; quicker than limestone and sooner gone.',
      },
      {
        material: 'pine needles',
        treatments: 1,
        peak: null,
        halfLifeDays: null,
        beds: ['Gone bed'],
        sentence: 'No measurable effect: none larger than 0.13 pH.',
      },
    ],
    sentence:
      'Ground limestone did most and lasts longest; pine needles did nothing that can be measured.',
  }
}

/** Thirty days of two probes: one sound, one that stood still for days. */
export function inventedQuality(bedId: number, now: number): BedQuality {
  const day = 86_400_000
  const none = { pass: 720, suspect: 0, fail: 0, missing: 0, notEvaluated: 0 }
  return {
    bedId,
    from: now - 30 * day,
    to: now,
    probes: [
      {
        probe: 'kettle1',
        spot: 'North end',
        hours: 720,
        ...none,
        pass: 712,
        suspect: 8,
        tests: [
          {
            name: 'Unsettled',
            ...none,
            pass: 712,
            suspect: 8,
            meaning: 'the soil was wetted just before',
          },
        ],
      },
      {
        probe: 'kettle2',
        spot: 'South end',
        hours: 720,
        ...none,
        pass: 600,
        fail: 120,
        tests: [
          { name: 'Flat line', ...none, pass: 600, fail: 120, meaning: 'the value stands still' },
        ],
      },
    ],
  }
}
