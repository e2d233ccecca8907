import type { JournalEntry } from '../model/journal.ts'
import { lasting, listed, ph1 } from './format.ts'
import type { Cause, WatchEvent } from './watch/event.ts'

/** What the words need besides the event. */
export interface EventNames {
  /** Name of each spot of the bed. */
  readonly spots: ReadonlyMap<number, string>
  /** Name of each bed of the garden. */
  readonly beds: ReadonlyMap<number, string>
  readonly journal: readonly JournalEntry[]
}

/** A cause in a few words, as it follows 'most likely'. */
export const CAUSE_WORDS: Readonly<Record<Cause, string>> = {
  soil: 'the soil itself',
  treatment: 'what was put on',
  water: 'rain or watering',
  service: 'the handling of a probe',
  probe: 'one probe, not the bed',
  'dry contact': 'soil too dry for the electrode',
  unconfirmed: 'soil or electrode: one spot alone cannot tell',
}

/** 95 % of a normal error. */
const Z95 = 1.96

/** What a day later was no more than this had passed by itself, pH. */
const PASSED = 0.25

const known = (value: number): boolean => Number.isFinite(value)

/** 'pH fell by 0.7 ± 0.1 at 3 of 4 spots within hours; most likely rain or watering.' */
export function eventSentence(event: WatchEvent, names: EventNames): string {
  const moved = event.spots.filter((spot) => spot.moved)
  const n = new Set(event.spots.map(({ spotId }) => spotId)).size
  const m = new Set(moved.map(({ spotId }) => spotId)).size
  const where =
    n <= 1
      ? `at ${nameOf(names, event.spots[0]?.spotId)}, its only spot that can be compared,`
      : m === n
        ? `at all ${n} spots`
        : m === 1
          ? `at ${nameOf(names, moved[0]?.spotId)} alone`
          : `at ${m} of ${n} spots`
  const how = event.form === 'step' ? 'within hours' : 'over days'
  if (event.state === 'recovered' && Math.abs(event.size) < PASSED) {
    return `pH left its usual level ${where} for some hours and came back by itself; most likely ${CAUSE_WORDS[event.cause]}.`
  }
  const likely = event.decidedAt === null ? 'so far it looks like' : 'most likely'
  const level = moved[0]
  const from =
    m === 1 && level !== undefined && known(level.before)
      ? ` from ${ph1(level.before)} to ${ph1(level.before + event.size)}`
      : ''
  return `pH ${event.size < 0 ? 'fell' : 'rose'}${from} by ${Math.abs(event.size).toFixed(1)} ± ${(Z95 * event.sizeSe).toFixed(1)} ${where} ${how}; ${likely} ${CAUSE_WORDS[event.cause]}.${ending(event)}`
}

function ending(event: WatchEvent): string {
  if (event.state === 'recovered') return ' It has come back since.'
  if (event.state === 'kept') return ' It has stayed, and counts as the normal level now.'
  return ''
}

function nameOf(names: EventNames, spotId: number | undefined): string {
  return (spotId === undefined ? undefined : names.spots.get(spotId)) ?? 'one spot'
}

/** Why this cause: one fact a line. */
export function eventGrounds(event: WatchEvent, names: EventNames): string[] {
  const { evidence } = event
  const lines: string[] = []
  const others = event.spots.filter((spot) => !spot.moved && known(spot.change))
  if (event.spots.length > 1) {
    lines.push(
      others.length === 0
        ? 'Every spot that could be compared moved the same way.'
        : `Not moved: ${listed(
            others.map((s) => `${nameOf(names, s.spotId)} (${signed(s.change)})`),
          )}.`,
    )
  }
  if (evidence.serviceAt !== null) {
    lines.push(
      evidence.serviceLogged
        ? `A calibration or service of the probe is written down ${apart(event.onset, evidence.serviceAt)}.`
        : `The probe was out of the soil ${apart(event.onset, evidence.serviceAt)}; no visit is written down.`,
    )
  }
  const entry = names.journal.find(({ id }) => id === evidence.journalId)
  if (entry !== undefined) {
    const what = entry.kind === 'treatment' ? (entry.material ?? 'a treatment') : 'a watering'
    lines.push(`The journal has ${what} ${apart(event.onset, entry.at)}.`)
    if (evidence.withinPlan !== null) {
      lines.push(
        evidence.withinPlan
          ? 'The change stays within one pH unit, as one careful treatment should.'
          : 'The change is more than one pH unit: more than one careful treatment should do.',
      )
    }
  }
  if (known(evidence.wetting) && evidence.wetting >= 0.1) {
    lines.push(
      `The soil became wetter at the same time, by ${Math.round(100 * evidence.wetting)} % of what it can hold.`,
    )
  }
  if (known(evidence.leastAvailable) && evidence.leastAvailable < 0.5) {
    lines.push(
      `The soil was dry: ${Math.max(0, Math.round(100 * evidence.leastAvailable))} % of the available water was left.`,
    )
  }
  if (known(evidence.warming) && Math.abs(evidence.warming) >= 4) {
    lines.push(
      `The soil temperature was ${Math.abs(evidence.warming).toFixed(0)} degrees ${evidence.warming < 0 ? 'below' : 'above'} its usual for the hour.`,
    )
  }
  if (evidence.otherBeds.length > 0) {
    lines.push(
      `Moved the same way within a day: ${listed(
        evidence.otherBeds.map((id) => names.beds.get(id) ?? `bed ${id}`),
      )}.`,
    )
  }
  if (event.firstCause !== event.cause) {
    lines.push(`When it was noticed it looked like ${CAUSE_WORDS[event.firstCause]}.`)
  }
  if (event.decidedAt === null) {
    lines.push('The cause is provisional until a day after it was noticed.')
  }
  return lines
}

/** What to do about it. Never a dose. */
export function eventAdvice(event: WatchEvent): string {
  switch (event.cause) {
    case 'soil':
      return 'Measure by hand in two or three places before doing anything. If it agrees, look for what was put on, a shared water supply, or a shared cable of the probes.'
    case 'treatment':
      return event.evidence.withinPlan === false
        ? 'Measure by hand, and put nothing more on the bed until it has settled.'
        : 'Nothing to do: watch how far it goes and how long it stays before adding more.'
    case 'water':
      return 'Nothing to do: such a dip mostly comes back within days to weeks. If half of it is still there after ten days, it will be told as a change of the soil.'
    case 'service':
      return 'Nothing to do in the bed. Write the visit in the journal if it is not there.'
    case 'probe':
      return 'Leave the bed as it is. Press the soil around the probe, rinse the electrode and check it in two fresh buffer solutions.'
    case 'dry contact':
      return 'Water as the plants need it; the pH comes back by itself when the soil is moist.'
    case 'unconfirmed':
      return 'To tell soil from electrode: a slurry of soil and distilled water measured by hand, the electrode in two buffers, or a second probe in the bed.'
  }
}

function signed(value: number): string {
  return `${value < 0 ? '−' : '+'}${Math.abs(value).toFixed(1)}`
}

function apart(onset: number, at: number): string {
  const gap = onset - at
  if (Math.abs(gap) < 3_600_000) return 'at that time'
  return gap > 0 ? `${lasting(gap)} before` : `${lasting(-gap)} after`
}
