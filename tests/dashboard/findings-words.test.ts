import { describe, expect, test } from 'vitest'
import { comparison, findings } from '#hub/api/schemas/findings.ts'
import { trial, trialPlan } from '#hub/api/schemas/trial.ts'
import { fanExtent } from '../../dashboard/src/chart/paint-fan.ts'
import { eventCorners } from '../../dashboard/src/event-sign.ts'
import { causeBriefly, newestOpen } from '../../dashboard/src/event-words.ts'
import {
  causeNamed,
  causeWords,
  changesSentence,
  newerThanStudy,
  stateWords,
  yearDayWords,
} from '../../dashboard/src/change-words.ts'
import { effectsSentence, halfLifeWords } from '../../dashboard/src/effect-words.ts'
import { opening } from '../../dashboard/src/opening.ts'
import { leavesRows } from '../../dashboard/src/leaves-rows.ts'
import {
  inventedAnswer,
  inventedComparison,
  inventedEvent,
  inventedFindings,
  inventedPlan,
  inventedTrials,
  rareFindings,
} from '../support/findings-fixture.ts'

const HOUR = 3_600_000
const DAY = 24 * HOUR
const now = Date.UTC(2026, 5, 20, 12)
const where = { zone: 'Europe/Lisbon', units: 'metric' } as const

describe('the invented findings', () => {
  test('are what the API may send', () => {
    findings.parse(inventedFindings(1, now))
    findings.parse(rareFindings(2, now))
    comparison.parse(inventedComparison())
    trialPlan.parse(inventedPlan())
    for (const one of inventedTrials(now)) trial.parse(one)
  })
})

describe('an event in words', () => {
  test('a settled cause is most likely, an open one provisional until a day after it was noticed', () => {
    const event = inventedEvent(now, { noticedAt: now - 5 * HOUR, decidedAt: null })
    expect(causeWords(event, now, where)).toMatch(
      /^most likely the soil itself, provisional until 21 Jun/,
    )
    expect(causeWords({ ...event, decidedAt: now }, now, where)).toBe('most likely the soil itself')
    // The day has passed and nothing was settled: no time is named that is over already.
    expect(causeWords(event, now + 3 * DAY, where)).toBe('most likely the soil itself, provisional')
  })

  test('an unconfirmed one claims no cause', () => {
    const event = inventedEvent(now, { cause: 'unconfirmed' })
    expect(causeWords(event, now, where)).not.toContain('most likely')
  })

  test('a lane has room for few words, and keeps the doubt among them', () => {
    const event = inventedEvent(now, { cause: 'probe' })
    expect(causeBriefly(event)).toBe('one probe alone')
    expect(causeBriefly({ ...event, decidedAt: null })).toBe('one probe alone, provisional')
  })

  test('a cause that comes as text', () => {
    expect(causeNamed('dry contact')).toBe('dry soil around the electrode')
    expect(causeNamed('moonlight')).toBe('moonlight')
  })

  test('how it stands', () => {
    expect(stateWords({ state: 'open', endedAt: null }, where)).toBe('still there')
    expect(stateWords({ state: 'recovered', endedAt: now }, where)).toMatch(
      /back .* since 20 Jun 2026/,
    )
    expect(stateWords({ state: 'kept', endedAt: null }, where)).not.toContain('since')
  })

  test('the newest that is open stands for the bed', () => {
    const events = inventedFindings(1, now).events
    expect(newestOpen(events)?.id).toBe('step-fern3-2')
    expect(newestOpen(events.filter(({ state }) => state !== 'open'))).toBeNull()
  })

  test('its sign goes the way the pH went; a step is upright, a slope leans', () => {
    const rising = eventCorners({ form: 'step', size: 0.6 })
    const falling = eventCorners({ form: 'step', size: -0.6 })
    expect(rising.map(([, y]) => Math.sign(y))).toEqual([-1, -1, 1, 1])
    expect(falling.map(([, y]) => Math.sign(y))).toEqual([1, 1, -1, -1])
    const [, foot, head] = eventCorners({ form: 'ramp', size: 0.6 })
    expect(foot![0]).toBeLessThan(head![0])
    expect(rising[1]![0]).toBeCloseTo(rising[2]![0], 9)
  })
})

test('a day of the year', () => {
  expect(yearDayWords(1, 'metric')).toBe('1 January')
  expect(yearDayWords(41, 'us')).toBe('February 10')
  expect(yearDayWords(365, 'metric')).toBe('31 December')
})

describe('effects in words', () => {
  test('a half-life that has not turned is a lower bound', () => {
    expect(halfLifeWords({ kind: 'at least', days: 410 }, 'metric')).toMatch(/^at least 410 days/)
    expect(
      halfLifeWords(
        { kind: 'known', days: { value: 236, low: 171, high: 342 }, early: true },
        'metric',
      ),
    ).toBe('236 days (171 to 342), early: not much of the return has been seen')
    expect(halfLifeWords({ kind: 'unknown', reason: 'too short' }, 'metric')).toBe(
      'not known: too short',
    )
  })

  test('the sentence counts what can be measured and what cannot be told', () => {
    const at = now - 260 * DAY
    const effect = (verdict: 'effect' | 'no measurable effect' | 'insufficient') => ({
      journalId: 1,
      at,
      material: 'lime',
      amountG: null,
      expected: '',
      answers: [inventedAnswer(at, now, { verdict })],
    })
    expect(effectsSentence([])).toContain('nothing to follow')
    expect(effectsSentence([effect('effect')])).toContain('had an effect')
    expect(effectsSentence([effect('no measurable effect')])).toContain('had no effect')
    expect(effectsSentence([effect('insufficient')])).toContain('cannot be told yet')
    expect(effectsSentence([effect('effect'), effect('insufficient')])).toContain('Of 2 treatments')
  })
})

describe('when a bed leaves its band', () => {
  const day = (at: number): string => `day ${Math.round((at - now) / DAY)}`
  const fan = {
    band: { low: 6, high: 6.8 },
    time: [now + 7 * DAY, now + 180 * DAY],
    q50: [6.4, 6.1],
    leaves: null,
  }
  test('three rows when all is known', () => {
    const leaves = {
      edge: 'high',
      median: now + 50 * DAY,
      earliest: now + 20 * DAY,
      latest: now + 90 * DAY,
    } as const
    const text = leavesRows({ ...fan, leaves }, day)
      .flat()
      .join(' ')
    expect(text).toContain('day 50')
    expect(text).toContain('alkaline')
    expect(text).toContain('day 20')
    expect(text).toContain('day 90')
  })
  test('an end beyond the horizon is only said to be later', () => {
    const leaves = { edge: 'low', median: null, earliest: now + 92 * DAY, latest: null } as const
    const rows = leavesRows({ ...fan, leaves }, day)
    expect(rows[0]![1]).toContain('later than day 180')
    expect(rows[2]![1]).toBe('later than day 180')
  })
  test('without a day it stays, or is outside already', () => {
    expect(leavesRows(fan, day)).toEqual([['Leaves its band', 'later than day 180']])
    for (const ph of [5.9, 6.9]) {
      expect(leavesRows({ ...fan, q50: [ph, 6.4] }, day)[0]![1]).toBe('it is outside already')
    }
  })
})

describe('how many changes', () => {
  test.each([
    [[], 'No change of level was noticed in the last 400 days.'],
    [['open'], 'One change of level in the last 400 days; it is still there.'],
    [['kept'], 'One change of level in the last 400 days; it has become the normal level.'],
    [['kept', 'recovered'], '2 changes of level in the last 400 days, none of them still open.'],
    [['open', 'open', 'kept'], '3 changes of level in the last 400 days, 2 of them still open.'],
  ] as const)('%j', (states, sentence) => {
    expect(changesSentence(states.map((state) => ({ state })))).toBe(sentence)
  })
})

test('a forecast older than a change of the bed is told apart; a probe alone does not count', () => {
  const soil = inventedEvent(now)
  const probe = inventedEvent(now, { cause: 'probe' })
  const before = soil.noticedAt - HOUR
  expect(newerThanStudy({ events: [soil], studiedAt: before })?.id).toBe(soil.id)
  expect(newerThanStudy({ events: [soil], studiedAt: soil.noticedAt + HOUR })).toBeNull()
  expect(newerThanStudy({ events: [probe], studiedAt: before })).toBeNull()
  expect(newerThanStudy({ events: [soil], studiedAt: null })).toBeNull()
})

test('the first sentence of a text', () => {
  expect(opening('Raises pH. After a paper. Wear a mask.')).toEqual([
    'Raises pH.',
    'After a paper. Wear a mask.',
  ])
  expect(opening('Nothing more')).toEqual(['Nothing more', ''])
})

test('only the part of a fan that is shown stretches the axis', () => {
  const { forecast } = inventedFindings(1, now)
  if (forecast.status !== 'ok') throw new Error('the fixture has a forecast')
  expect(fanExtent(forecast, now - DAY, now - 1)).toEqual([])
  expect(fanExtent(forecast, now, now + 12 * DAY)).toHaveLength(2 * 3)
  expect(fanExtent(null, now, now + DAY)).toEqual([])
})
