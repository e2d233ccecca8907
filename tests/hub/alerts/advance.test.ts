import { expect, test } from 'vitest'
import { advance } from '#hub/alerts/advance.ts'
import { acknowledge } from '#hub/alerts/operate.ts'
import type { BedLook, ProbeFinding, ShiftFinding } from '#hub/analysis/assessment.ts'
import type { Alarm } from '#hub/model/alarm.ts'
import { HOUR, MINUTE } from '#hub/model/clock.ts'
import { bedLook, T0 } from './looks.ts'

function shift(change: number, of: Partial<ShiftFinding> = {}): ShiftFinding {
  return {
    grade: Math.abs(change) > 1 ? 'harmful' : 'early',
    from: 6.5,
    to: 6.5 + change,
    change,
    changeHalfWidth: 0.2,
    since: T0 - HOUR,
    spotsMoved: ['north', 'south'],
    spotsSteady: [],
    sureness: 0.95,
    journalId: null,
    cause: 'soil',
    decided: true,
    event: EVENT,
    ...of,
  }
}

const EVENT: ShiftFinding['event'] = {
  id: 'step-1',
  bedId: 1,
  form: 'step',
  onset: T0 - HOUR,
  noticedAt: T0,
  firstCause: 'soil',
  cause: 'soil',
  decidedAt: T0,
  size: -1.3,
  sizeSe: 0.1,
  present: -1.3,
  spots: [],
  evidence: {
    leastAvailable: NaN,
    wetting: NaN,
    warming: NaN,
    serviceAt: null,
    serviceLogged: false,
    journalId: null,
    withinPlan: null,
    otherBeds: [],
  },
  state: 'open',
  endedAt: null,
}

/** Plays assessments against a store of alarms, as the evaluation loop does. */
function player() {
  let alarms: Alarm[] = []
  let nextId = 1
  const put = (changed: readonly Alarm[]): void => {
    for (const alarm of changed) {
      if (alarm.id === 0) alarms.push({ ...alarm, id: nextId++ })
      else alarms = alarms.map((a) => (a.id === alarm.id ? alarm : a))
    }
  }
  return {
    look(at: number, change: Partial<BedLook>): readonly Alarm[] {
      const changed = advance(
        alarms.filter(({ state }) => state !== 'normal'),
        bedLook({ at, ...change }),
        at,
      ).map(({ alarm }) => alarm)
      put(changed)
      return changed
    },
    acknowledge(id: number, at: number): void {
      put([
        acknowledge(
          alarms.find((a) => a.id === id)!,
          at,
          { by: 'Ona' },
        )!.alarm,
      ])
    },
    get all(): readonly Alarm[] {
      return alarms
    },
  }
}

const check: ProbeFinding = {
  probe: 'alder1',
  spot: 'north',
  kind: 'apart from the bed',
  needsCheck: true,
  from: 6.5,
  to: 5,
  since: T0,
  sentence: 'Probe alder1 in north went from pH 6.5 to 5.0 while the rest of the bed stayed.',
}

const view = (leftOut: string | null) => ({
  spotId: 1,
  spot: 'north',
  probe: 'alder1',
  ph: 6,
  newestPh: null,
  moisture: null,
  temperatureC: null,
  at: T0,
  leftOut,
})

test('a harmful shift raises one alarm, with evidence, advice and its cautions', () => {
  const p = player()
  const [alarm] = p.look(T0, { shift: shift(-1.4) })
  expect(alarm).toMatchObject({
    id: 0,
    kind: 'harmful-shift',
    subject: '',
    state: 'unacknowledged',
    raisedAt: T0,
    evidence: { from: 6.5, change: -1.4, spotsMoved: ['north', 'south'], sureness: 0.95 },
  })
  expect(alarm!.sentence).toMatch(/^East bed: pH fell from 6\.5 to 5\.1 \(by 1\.4 ± 0\.2\)/)
  expect(alarm!.advice).toMatch(/by hand first/)
  expect(alarm!.advice).toMatch(/Do not lime against it/)
  expect(alarm!.advice).toMatch(/product label/)
  expect(alarm!.advice).toMatch(/extension service/)
  for (let minute = 1; minute < 60; minute++) {
    expect(p.look(T0 + minute * MINUTE, { shift: shift(-1.4 - 0.0005 * minute) })).toEqual([])
  }
  expect(p.look(T0 + 2 * HOUR, { shift: shift(-1.6) })).toMatchObject([
    { id: 1, changedAt: T0 + 2 * HOUR, evidence: { change: -1.6 } },
  ])
  expect(p.all).toHaveLength(1)
})

test('it goes on inside the deadband and returns an hour after it is over', () => {
  const p = player()
  p.look(T0, { shift: shift(1.3) })
  expect(p.look(T0 + HOUR, { shift: shift(0.9) })).toMatchObject([{ state: 'unacknowledged' }])
  expect(p.all, 'no early warning beside it').toHaveLength(1)
  expect(p.look(T0 + 2 * HOUR, {})).toMatchObject([
    { state: 'unacknowledged', overSince: T0 + 2 * HOUR },
  ])
  expect(p.look(T0 + 2 * HOUR + 30 * MINUTE, {})).toEqual([])
  expect(p.look(T0 + 3 * HOUR, {})).toMatchObject([
    { state: 'returned', returnedAt: T0 + 3 * HOUR },
  ])
  expect(p.all[0]!.sentence).toMatch(/Back to normal/)
  p.acknowledge(1, T0 + 4 * HOUR)
  expect(p.all[0]).toMatchObject({ state: 'normal', acknowledgedAt: T0 + 4 * HOUR })
})

test('a short way back does not end it', () => {
  const p = player()
  p.look(T0, { shift: shift(1.3) })
  p.look(T0 + HOUR, {})
  expect(p.look(T0 + HOUR + 40 * MINUTE, { shift: shift(1.3) })).toMatchObject([
    { overSince: null },
  ])
  p.look(T0 + 2 * HOUR, {})
  expect(p.look(T0 + 2 * HOUR + 50 * MINUTE, {}), 'the hour begins anew').toEqual([])
  expect(p.all[0]!.state).toBe('unacknowledged')
})

test('acknowledged first, it goes straight to normal', () => {
  const p = player()
  p.look(T0, { shift: shift(1.3) })
  p.acknowledge(1, T0 + MINUTE)
  expect(p.all[0]).toMatchObject({ state: 'acknowledged', acknowledgedAt: T0 + MINUTE })
  p.look(T0 + HOUR, {})
  expect(p.look(T0 + 2 * HOUR, {})).toMatchObject([{ state: 'normal' }])
  expect(p.look(T0 + 3 * HOUR, { shift: shift(-1.3) })).toMatchObject([{ id: 0 }])
})

test('what has returned unseen and comes again is the same episode', () => {
  const p = player()
  p.look(T0, { shift: shift(1.3) })
  p.look(T0 + HOUR, {})
  p.look(T0 + 2 * HOUR, {})
  expect(p.all[0]!.state).toBe('returned')
  expect(p.look(T0 + 3 * HOUR, { shift: shift(1.2) })).toMatchObject([
    { id: 1, state: 'unacknowledged', returnedAt: null },
  ])
})

test('an assessment that cannot tell ends nothing', () => {
  const p = player()
  p.look(T0, { shift: shift(1.3), probes: [check] })
  for (let hour = 1; hour < 10; hour++) {
    expect(p.look(T0 + hour * HOUR, { spots: [view('no reading')] })).toEqual([])
  }
  // A pH from a third spot alone says nothing of the two that moved.
  const other = { ...view(null), spotId: 3, spot: 'east', probe: 'alder3' }
  expect(p.look(T0 + 11 * HOUR, { spots: [view('no reading'), other] })).toEqual([])
  expect(p.all.map(({ state }) => state)).toEqual(['unacknowledged', 'unacknowledged'])
})

test('a harmful shift takes the place of the early warning', () => {
  const p = player()
  expect(p.look(T0, { shift: shift(0.7) })).toMatchObject([{ kind: 'early-warning' }])
  const changed = p.look(T0 + HOUR, { shift: shift(1.2) })
  expect(changed.map(({ kind, state }) => [kind, state])).toEqual([
    ['harmful-shift', 'unacknowledged'],
    ['early-warning', 'normal'],
  ])
  expect(changed[1]!.sentence).toMatch(/grown into a harmful shift/)
  expect(p.look(T0 + 2 * HOUR, { shift: shift(1.2) })).toEqual([])
})

test('a small change by water, or by a treatment as planned, warns nobody; one beyond the plan does', () => {
  const treated = (withinPlan: boolean | null): ShiftFinding =>
    shift(0.7, {
      cause: 'treatment',
      journalId: 3,
      event: { ...EVENT, cause: 'treatment', evidence: { ...EVENT.evidence, withinPlan } },
    })
  expect(player().look(T0, { shift: shift(-0.7, { cause: 'water' }) })).toEqual([])
  expect(player().look(T0, { shift: treated(true) })).toEqual([])
  expect(player().look(T0, { shift: treated(false) })).toMatchObject([
    { kind: 'early-warning', evidence: { cause: 'treatment', journalId: 3 } },
  ])
  // Beyond one unit it is harmful, whatever explains it.
  expect(player().look(T0, { shift: shift(-1.3, { cause: 'water' }) })).toMatchObject([
    { kind: 'harmful-shift' },
  ])
})

test('a warning whose cause turns out to be water is closed, and says why', () => {
  const p = player()
  p.look(T0, { shift: shift(-0.7, { decided: false }) })
  const closed = p.look(T0 + HOUR, { shift: shift(-0.7, { cause: 'water' }) })
  expect(closed).toMatchObject([{ kind: 'early-warning', state: 'returned' }])
  expect(closed[0]!.sentence).toContain('most likely rain or watering')
  expect(p.look(T0 + 2 * HOUR, { shift: shift(-0.7, { cause: 'water' }) })).toEqual([])
})

test('a probe check is per probe, returns when it reads well, and at once when it was taken out', () => {
  const p = player()
  expect(
    p.look(T0, { probes: [check, { ...check, kind: 'flat line' }], spots: [view(null)] }),
  ).toHaveLength(1)
  expect(p.all[0]).toMatchObject({ kind: 'probe-check', subject: 'alder1' })
  expect(p.all[0]!.advice).toMatch(/buffer/)
  p.look(T0 + HOUR, { spots: [view(null)] })
  expect(p.look(T0 + 2 * HOUR, { spots: [view(null)] })).toMatchObject([{ state: 'returned' }])

  const q = player()
  q.look(T0, { probes: [check], spots: [view(null)] })
  expect(q.look(T0 + MINUTE, { spots: [] })).toMatchObject([{ state: 'returned' }])
  expect(q.all[0]!.sentence).toMatch(/no longer sits/)
})

test('what only needs telling raises nothing, and another bed is left alone', () => {
  const p = player()
  expect(p.look(T0, { probes: [{ ...check, kind: 'dry soil', needsCheck: false }] })).toEqual([])
  p.look(T0, { shift: shift(1.5) })
  expect(p.look(T0 + 5 * HOUR, { bedId: 2 })).toEqual([])
})

test('acknowledging twice, or what is normal, changes nothing', () => {
  const p = player()
  p.look(T0, { shift: shift(1.5) })
  const alarm = p.all[0]!
  const once = acknowledge(alarm, T0 + 1, { by: null })!.alarm
  expect(acknowledge(once, T0 + 2, { by: null })).toBeNull()
  const normal: Alarm = { ...alarm, state: 'normal' }
  expect(acknowledge(normal, T0 + 2, { by: null })).toBeNull()
})

test('when no probe is left in the spots that moved, the alarm does not stand for ever', () => {
  const p = player()
  p.look(T0, { shift: shift(1.3) })
  expect(p.look(T0 + HOUR, { spots: [] })).toMatchObject([{ state: 'returned' }])
  expect(p.all[0]!.sentence).toMatch(/no probe is left/i)
})

test('the size of a change fits the levels it is printed with', () => {
  // 5.54 to 6.56 prints as 5.5 and 6.6, though the change is 1.02.
  const [alarm] = player().look(T0, { shift: shift(1.02, { from: 5.54, to: 6.56 }) })
  expect(alarm!.sentence).toMatch(/from 5\.5 to 6\.6 \(by 1\.1 ± 0\.2\)/)
})
