import type { Alarm } from '../../hub/api/schemas/alarm.ts'
import type { BedView } from '../../hub/api/schemas/bed.ts'

/** A bed as the API gives it. */
export function bedView(change: Partial<BedView> = {}): BedView {
  const missing = { status: 'insufficient', have: 'nothing', need: 'a probe' } as const
  return {
    id: 1,
    name: 'Long bed',
    areaM2: 4.4999,
    depthM: 0.3048,
    texture: 'loam',
    crops: [],
    ownBand: null,
    rank: 0,
    retiredAt: null,
    assessedAt: null,
    ph: missing,
    moisture: missing,
    temperature: missing,
    band: { status: 'none', band: null, sentence: '' },
    standing: 'unknown',
    sentence: '',
    spots: [],
    notices: [],
    alarms: [],
    ...change,
  }
}

export function alarmView(change: Partial<Alarm> = {}): Alarm {
  return {
    id: 7,
    bedId: 1,
    bed: 'Long bed',
    kind: 'harmful-shift',
    subject: '',
    priority: 'high',
    state: 'unacknowledged',
    raisedAt: 1000,
    acknowledgedAt: null,
    returnedAt: null,
    overSince: null,
    shelvedUntil: null,
    changedAt: 1000,
    evidence: {
      from: 6.4,
      to: 7.6,
      change: 1.2,
      changeHalfWidth: 0.2,
      since: 900,
      spotsMoved: [],
      spotsSteady: [],
      sureness: 0.97,
      journalId: null,
      cause: null,
      causeSettled: null,
      figures: [],
    },
    sentence: 'it rose',
    advice: 'wait',
    ...change,
  }
}
