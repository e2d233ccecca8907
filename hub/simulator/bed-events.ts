import { DAY, HOUR, MINUTE } from '../model/clock.ts'
import type { Random } from './random.ts'
import type { Response } from './soil.ts'

/** One reading of a labelled bed every quarter of an hour. */
export const SAMPLE_MS = 15 * MINUTE

/** The usual things that happen to a labelled bed; the first four carry the name of their cause. */
export const USUAL_KINDS = ['soil', 'probe', 'service', 'water'] as const
/** What happens on request only. */
export const EXTRA_KINDS = [
  /** The soil changes over days, up to 30. */
  'ramp',
  /** A logged treatment with a rise and a slow return. */
  'treatment',
  /** Water that raises the pH: hard tap water on a bed used to rain. */
  'hard water',
  /** Water so cold that the soil temperature jumps; the electrode shows a small change either way. */
  'cold water',
  /** Frost in the soil: the readings of every probe flip to and fro. */
  'freezing',
  /** Supply or reference of the shared controller: every probe jumps in the same sample, and back later. */
  'controller fault',
  /** An electrode that dies over months without a step. */
  'creeping death',
  /** Supply runs out: ever more readings of one probe are garbage. */
  'battery sag',
] as const
export type UsualKind = (typeof USUAL_KINDS)[number]
export type ExtraKind = (typeof EXTRA_KINDS)[number]
export type EventKind = UsualKind | ExtraKind

/** Something that was made to happen, and is therefore known to be true. */
export interface BedEvent {
  readonly kind: EventKind
  /** First sample that shows it, epoch ms. */
  readonly onset: number
  /** Change when complete, pH, signed; for garbage and flips how far they reach. */
  readonly sizePh: number
  /** Index of the one spot it happens to; null: the whole bed. */
  readonly spot: number | null
  /** Until it is complete, ms; for faults that end by themselves how long they last. */
  readonly lastingMs: number
  /** Days until half of it has gone again; Infinity: it stays. */
  readonly returnHalfDays: number
  /** Water that comes with it, mm. */
  readonly waterMm: number
  /** Jump of soil temperature that comes with it, degrees Celsius. */
  readonly jumpC: number
  /** Of a treatment: how the soil answers, and what was put on. */
  readonly response: Response | null
  readonly material: string | null
}

const SLOT_DAYS = 25
const FIRST_DAY = 20
const LAST_DAYS = 15

/**
 * Events of one bed, at least 24 days from one onset to the next, shuffled over the bed's time. Those for which
 * no slot is left are left out.
 *
 * @param bed.basePh soil pH about which it swings: events that would take soil or reading out of what is possible
 *   go the other way
 * @param counts how many of each kind
 */
export function planEvents(
  random: Random,
  bed: {
    readonly startMs: number
    readonly days: number
    readonly spots: number
    readonly basePh: number
  },
  counts: Readonly<Partial<Record<EventKind, number>>>,
): readonly BedEvent[] {
  const slots: number[] = []
  for (let d = FIRST_DAY; d < bed.days - LAST_DAYS; d += SLOT_DAYS) slots.push(d)
  for (let i = slots.length - 1; i > 0; i--) {
    const j = Math.floor(random.between(0, i + 1))
    const held = slots[i]!
    slots[i] = slots[j]!
    slots[j] = held
  }
  // Round by round, so that when slots run out every kind loses alike.
  const wanted: EventKind[] = []
  const most = Math.max(0, ...Object.values(counts))
  for (let round = 0; round < most; round++) {
    for (const kind of [...USUAL_KINDS, ...EXTRA_KINDS]) {
      if ((counts[kind] ?? 0) > round) wanted.push(kind)
    }
  }
  const drawn = wanted
    .slice(0, slots.length)
    .map((kind, i) => {
      const quarter = Math.floor(random.between(0, 96))
      return drawEvent(random, kind, bed.startMs + slots[i]! * DAY + quarter * SAMPLE_MS, bed.spots)
    })
    .toSorted((a, b) => a.onset - b.onset)
  return keptPossible(drawn, bed.basePh)
}

/** pH that soils of beds have, and that probes in them still show. */
const SOIL_PH = { low: 4, high: 8.8 } as const
const SHOWN_PH = { low: 3.2, high: 10 } as const
const ON_SOIL: ReadonlySet<EventKind> = new Set(['soil', 'ramp', 'treatment'])

/** Turns round the events that would add up with earlier ones to a pH nobody has seen. */
function keptPossible(events: readonly BedEvent[], basePh: number): readonly BedEvent[] {
  const done: BedEvent[] = []
  const soilAt = (at: number): number =>
    done.reduce((ph, { kind, sizePh, onset, returnHalfDays }) => {
      if (!ON_SOIL.has(kind)) return ph
      return ph + sizePh * 2 ** (-(at - onset) / DAY / returnHalfDays)
    }, basePh)
  const errorOf = (spot: number): number =>
    done.reduce((error, one) => (one.spot === spot ? error + one.sizePh : error), 0)
  for (const event of events) {
    const { kind, onset, sizePh, spot } = event
    const soil = soilAt(onset)
    let then = NaN
    let limits: { readonly low: number; readonly high: number } = SOIL_PH
    if (ON_SOIL.has(kind)) then = soil + sizePh
    else if (spot !== null && kind !== 'battery sag') {
      then = soil + errorOf(spot) + sizePh
      limits = SHOWN_PH
    }
    done.push(then < limits.low || then > limits.high ? turned(event) : event)
  }
  return done
}

function turned(event: BedEvent): BedEvent {
  const { sizePh, response, material } = event
  return {
    ...event,
    sizePh: -sizePh,
    response: response === null ? null : { ...response, peakPh: -response.peakPh },
    material: material === null ? null : materialFor(-sizePh),
  }
}

const materialFor = (sizePh: number): string =>
  sizePh > 0 ? 'ground limestone' : 'elemental sulfur'

/** An electrode alone cannot be told from its soil: in a bed of one spot the soil changes instead. */
function drawEvent(random: Random, kind: EventKind, onset: number, spots: number): BedEvent {
  const sign = random.chance(0.5) ? 1 : -1
  const spot = Math.floor(random.between(0, spots))
  const plain = {
    kind,
    onset,
    spot: null,
    lastingMs: 0,
    returnHalfDays: Infinity,
    waterMm: 0,
    jumpC: 0,
    response: null,
    material: null,
  }
  const halfLife = (low: number, high: number): number => random.between(low, high) * Math.LN2
  switch (kind) {
    case 'probe':
      if (spots < 2) return drawEvent(random, 'soil', onset, spots)
      return { ...plain, spot, sizePh: sign * random.between(0.5, 2) }
    case 'soil':
      return {
        ...plain,
        sizePh: sign * random.between(0.5, 2),
        lastingMs: random.between(1, 6) * HOUR,
        returnHalfDays: halfLife(60, 400),
      }
    case 'service':
      return { ...plain, spot, sizePh: sign * random.between(0.5, 1.2) }
    case 'water':
      return {
        ...plain,
        sizePh: -random.between(0.5, 0.9),
        lastingMs: 4 * HOUR,
        returnHalfDays: halfLife(2, 6),
        waterMm: random.between(30, 60),
      }
    case 'hard water':
      return {
        ...plain,
        sizePh: random.between(0.5, 0.9),
        lastingMs: 4 * HOUR,
        returnHalfDays: halfLife(2, 6),
        waterMm: random.between(30, 60),
      }
    case 'cold water':
      return {
        ...plain,
        sizePh: sign * random.between(0.35, 0.5),
        lastingMs: HOUR,
        returnHalfDays: halfLife(0.5, 1.5),
        waterMm: random.between(10, 20),
        jumpC: -random.between(9, 14),
      }
    case 'ramp':
      return {
        ...plain,
        sizePh: sign * random.between(0.6, 2),
        lastingMs: random.between(2, 30) * DAY,
        returnHalfDays: halfLife(60, 400),
      }
    case 'treatment': {
      const sizePh = sign * random.between(0.5, 1.2)
      const response = {
        peakPh: sizePh,
        lagDays: random.between(0, 20),
        riseHalfDays: random.between(5, 30),
        returnHalfDays: random.between(60, 500),
      }
      return {
        ...plain,
        sizePh,
        lastingMs: (response.lagDays + 4 * response.riseHalfDays) * DAY,
        returnHalfDays: response.returnHalfDays,
        response,
        material: materialFor(sizePh),
      }
    }
    case 'freezing':
      return {
        ...plain,
        sizePh: random.between(1, 3),
        lastingMs: random.between(1, 4) * DAY,
        jumpC: -random.between(3, 8),
      }
    case 'controller fault':
      return {
        ...plain,
        sizePh: sign * random.between(0.5, 2),
        lastingMs: random.between(1, 10) * DAY,
      }
    case 'creeping death':
      return {
        ...plain,
        spot,
        sizePh: sign * random.between(0.7, 1.1),
        lastingMs: random.between(100, 140) * DAY,
      }
    case 'battery sag':
      return {
        ...plain,
        spot,
        sizePh: random.between(2, 5),
        lastingMs: random.between(3, 10) * DAY,
      }
  }
}
