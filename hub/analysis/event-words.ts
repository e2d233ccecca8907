import type { JournalEntry } from '../model/journal.ts'
import { degreesApart } from '../words/amount.ts'
import { ph1 } from './format.ts'
import type { Cause, WatchEvent } from './watch/event.ts'
import { fixed, lasting, listed } from '../words/figure.ts'
import { said, say, toSay } from '../words/say.ts'

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
  soil: toSay('the soil itself'),
  treatment: toSay('what was put on'),
  water: toSay('rain or watering'),
  service: toSay('the handling of a probe'),
  probe: toSay('one probe, not the bed'),
  'dry contact': toSay('soil too dry for the electrode'),
  unconfirmed: toSay('soil or electrode: one spot alone cannot tell'),
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
      ? say`at ${nameOf(names, event.spots[0]?.spotId)}, its only spot that can be compared,`
      : m === n
        ? say`at all ${n} spots`
        : m === 1
          ? say`at ${nameOf(names, moved[0]?.spotId)} alone`
          : say`at ${m} of ${n} spots`
  const how = event.form === 'step' ? say`within hours` : say`over days`
  if (event.state === 'recovered' && Math.abs(event.size) < PASSED) {
    return say`pH left its usual level ${where} for some hours and came back by itself; most likely ${said(CAUSE_WORDS[event.cause])}.`
  }
  const likely = event.decidedAt === null ? say`so far it looks like` : say`most likely`
  const level = moved[0]
  const from =
    m === 1 && level !== undefined && known(level.before)
      ? ` ${say`from ${ph1(level.before)} to ${ph1(level.before + event.size)}`}`
      : ''
  return event.size < 0
    ? say`pH fell${from} by ${fixed(Math.abs(event.size), 1)} ± ${fixed(Z95 * event.sizeSe, 1)} ${where} ${how}; ${likely} ${said(CAUSE_WORDS[event.cause])}.${ending(event)}`
    : say`pH rose${from} by ${fixed(Math.abs(event.size), 1)} ± ${fixed(Z95 * event.sizeSe, 1)} ${where} ${how}; ${likely} ${said(CAUSE_WORDS[event.cause])}.${ending(event)}`
}

function ending(event: WatchEvent): string {
  if (event.state === 'recovered') return ` ${say`It has come back since.`}`
  if (event.state === 'kept') return ` ${say`It has stayed, and counts as the normal level now.`}`
  return ''
}

function nameOf(names: EventNames, spotId: number | undefined): string {
  return (spotId === undefined ? undefined : names.spots.get(spotId)) ?? say`one spot`
}

/** Why this cause: one fact a line. */
export function eventGrounds(event: WatchEvent, names: EventNames): string[] {
  const { evidence } = event
  const lines: string[] = []
  const others = event.spots.filter((spot) => !spot.moved && known(spot.change))
  if (event.spots.length > 1) {
    lines.push(
      others.length === 0
        ? say`Every spot that could be compared moved the same way.`
        : say`Not moved: ${listed(
            others.map((s) => `${nameOf(names, s.spotId)} (${signed(s.change)})`),
          )}.`,
    )
  }
  if (evidence.serviceAt !== null) {
    lines.push(
      evidence.serviceLogged
        ? say`A calibration or service of the probe is written down ${apart(event.onset, evidence.serviceAt)}.`
        : say`The probe was out of the soil ${apart(event.onset, evidence.serviceAt)}; no visit is written down.`,
    )
  }
  const entry = names.journal.find(({ id }) => id === evidence.journalId)
  if (entry !== undefined) {
    const what =
      entry.kind === 'treatment' ? said(entry.material ?? toSay('a treatment')) : say`a watering`
    lines.push(say`The journal has ${what} ${apart(event.onset, entry.at)}.`)
    if (evidence.withinPlan !== null) {
      lines.push(
        evidence.withinPlan
          ? say`The change stays within one pH unit, as one careful treatment should.`
          : say`The change is more than one pH unit: more than one careful treatment should do.`,
      )
    }
  }
  if (known(evidence.wetting) && evidence.wetting >= 0.1) {
    lines.push(
      say`The soil became wetter at the same time, by ${Math.round(100 * evidence.wetting)} % of what it can hold.`,
    )
  }
  if (known(evidence.leastAvailable) && evidence.leastAvailable < 0.5) {
    lines.push(
      say`The soil was dry: ${Math.max(0, Math.round(100 * evidence.leastAvailable))} % of the available water was left.`,
    )
  }
  if (known(evidence.warming) && Math.abs(evidence.warming) >= 4) {
    lines.push(
      evidence.warming < 0
        ? say`The soil temperature was ${degreesApart(Math.abs(evidence.warming))} degrees below its usual for the hour.`
        : say`The soil temperature was ${degreesApart(Math.abs(evidence.warming))} degrees above its usual for the hour.`,
    )
  }
  if (evidence.otherBeds.length > 0) {
    lines.push(
      say`Moved the same way within a day: ${listed(
        evidence.otherBeds.map((id) => names.beds.get(id) ?? say`bed ${id}`),
      )}.`,
    )
  }
  if (event.firstCause !== event.cause) {
    lines.push(say`When it was noticed it looked like ${said(CAUSE_WORDS[event.firstCause])}.`)
  }
  if (event.decidedAt === null) {
    lines.push(say`The cause is provisional until a day after it was noticed.`)
  }
  return lines
}

/** What to do about it. Never a dose. */
export function eventAdvice(event: WatchEvent): string {
  switch (event.cause) {
    case 'soil':
      return say`Measure by hand in two or three places before doing anything. If it agrees, look for what was put on, a shared water supply, or a shared cable of the probes.`
    case 'treatment':
      return event.evidence.withinPlan === false
        ? say`Measure by hand, and put nothing more on the bed until it has settled.`
        : say`Nothing to do: watch how far it goes and how long it stays before adding more.`
    case 'water':
      return say`Nothing to do: such a dip mostly comes back within days to weeks. If half of it is still there after ten days, it will be told as a change of the soil.`
    case 'service':
      return say`Nothing to do in the bed. Write the visit in the journal if it is not there.`
    case 'probe':
      return say`Leave the bed as it is. Press the soil around the probe, rinse the electrode and check it in two fresh buffer solutions.`
    case 'dry contact':
      return say`Water as the plants need it; the pH comes back by itself when the soil is moist.`
    case 'unconfirmed':
      return say`To tell soil from electrode: a slurry of soil and distilled water measured by hand, the electrode in two buffers, or a second probe in the bed.`
  }
}

function signed(value: number): string {
  return `${value < 0 ? '−' : '+'}${fixed(Math.abs(value), 1)}`
}

function apart(onset: number, at: number): string {
  const gap = onset - at
  if (Math.abs(gap) < 3_600_000) return say`at that time`
  return gap > 0 ? say`${lasting(gap)} before` : say`${lasting(-gap)} after`
}
