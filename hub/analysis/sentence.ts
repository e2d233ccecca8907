import type { Bed } from '../model/bed.ts'
import { HOUR } from '../model/clock.ts'
import type { JournalEntry } from '../model/journal.ts'
import type {
  BandView,
  Estimate,
  Insufficient,
  Present,
  ProbeFinding,
  ShiftFinding,
  Standing,
} from './assessment.ts'
import { bandText, ph1 } from './format.ts'
import { ago, fixed, counted, lasting, listed } from '../words/figure.ts'
import { said, say, toSay } from '../words/say.ts'

/** What is known when the sentence is made. */
export interface SentenceFacts {
  readonly bed: Bed
  readonly ph: Present
  readonly band: BandView
  readonly standing: Standing
  readonly shift: ShiftFinding | null
  readonly findings: readonly ProbeFinding[]
  readonly disagree: boolean
  readonly journal: readonly JournalEntry[]
  readonly at: number
}

/** Older than this, a value is told with its age. */
const STALE_MS = 6 * HOUR

/** One bed in plain words: what is, how sure, what to do next. */
export function sentenceFor(facts: SentenceFacts): string {
  const { ph, shift, findings } = facts
  if (ph.status === 'insufficient') return withoutValue(ph, findings)
  if (shift !== null) {
    return `${shiftSentence(shift, `, ${say`beginning ${ago(facts.at - shift.since)}`}`)} ${shiftNext(facts, shift)}`
  }
  const parts = [standingSentence(facts, ph)]
  const checks = findings.filter((finding) => finding.needsCheck)
  if (facts.disagree) {
    parts.push(
      say`Its two spots are more than 0.6 apart, so their middle says little: measure both by hand.`,
    )
  }
  if (checks.length > 0) {
    parts.push(say`Look at ${listed(unique(checks.map((f) => `${f.probe} (${f.spot})`)))}.`)
  } else if (ph.leftOut.length > 0) {
    parts.push(say`Left out: ${ph.leftOut.map((l) => `${l.spot} (${l.reason})`).join('; ')}.`)
  }
  if (findings.some((finding) => finding.kind === 'uncalibrated')) {
    parts.push(
      say`Not calibrated yet: ${listed(unique(findings.flatMap((f) => (f.kind === 'uncalibrated' ? f.probe : []))))}.`,
    )
  }
  const age = facts.at - ph.at
  if (age > STALE_MS) parts.push(say`The newest reading is ${lasting(age)} old.`)
  return parts.join(' ')
}

/**
 * 'pH fell from 6.5 to 5.1 (by 1.4 ± 0.2), beginning 2 hours ago; all 4 spots agree.' `when` is left out
 * where the sentence is kept: what began two hours ago today did not tomorrow.
 */
export function shiftSentence(shift: ShiftFinding, when = ''): string {
  const spots = shift.spotsMoved.length + shift.spotsSteady.length
  const who =
    spots === 1
      ? say`its one probe shows it, so it may be the electrode`
      : shift.spotsSteady.length === 0
        ? say`all ${counted(spots, 'spot')} agree`
        : say`${shift.spotsMoved.length} of ${spots} spots agree`
  return shift.change < 0
    ? say`pH fell from ${ph1(shift.from)} to ${ph1(shift.to)} (by ${fixed(shownChange(shift.from, shift.to), 1)} ± ${fixed(shift.changeHalfWidth, 1)})${when}; ${who}.`
    : say`pH rose from ${ph1(shift.from)} to ${ph1(shift.to)} (by ${fixed(shownChange(shift.from, shift.to), 1)} ± ${fixed(shift.changeHalfWidth, 1)})${when}; ${who}.`
}

/** Size of a change as it follows from its two ends as they are printed, with one decimal: 5.5 to 6.6 is 1.1. */
export function shownChange(from: number, to: number): number {
  return Math.abs(Number(to.toFixed(1)) - Number(from.toFixed(1)))
}

function shiftNext(facts: SentenceFacts, shift: ShiftFinding): string {
  const entry = facts.journal.find(({ id }) => id === shift.journalId)
  if (shift.cause === 'water') {
    return say`Most likely rain or watering: such a dip mostly comes back by itself within days to weeks.`
  }
  if (shift.cause === 'unconfirmed') {
    return say`One spot alone cannot tell soil from electrode: measure by hand, or check the electrode in two buffers.`
  }
  const within = entry !== undefined && shift.event.evidence.withinPlan !== false
  const cause =
    entry === undefined
      ? say`The journal has nothing that explains it.`
      : within
        ? say`The journal has ${entryText(entry)} before it.`
        : say`The journal has ${entryText(entry)} before it, but this is more than one careful treatment should do.`
  const next =
    shift.grade === 'harmful'
      ? say`Measure by hand before doing anything, and put nothing on it yet.`
      : within
        ? say`Watch how far it goes before adding more.`
        : say`Watch it, and measure by hand if it goes on.`
  return `${cause} ${next}`
}

function entryText(entry: JournalEntry): string {
  if (entry.kind === 'treatment') return said(entry.material ?? toSay('a treatment'))
  if (entry.kind === 'irrigation') return say`a watering`
  return say`an entry`
}

function standingSentence({ standing, band }: SentenceFacts, ph: Estimate): string {
  const value = say`pH ${ph1(ph.value)} ± ${fixed(ph.halfWidth, 1)}`
  if (band.band === null) return `${value}. ${band.sentence}`
  const edges = bandText(band.band)
  switch (standing) {
    case 'in band':
      return say`${value}, inside its band of ${edges}. Nothing to do.`
    case 'below':
      return say`${value}, ${gap(band.band.low - ph.value)} below its band of ${edges}. Confirm with a soil test before raising it.`
    case 'above':
      return say`${value}, ${gap(ph.value - band.band.high)} above its band of ${edges}. Confirm with a soil test before lowering it.`
    case 'unsure':
    case 'unknown': {
      const low = ph.value - band.band.low < band.band.high - ph.value
      return low
        ? say`${value}, at the lower edge of its band of ${edges}: too near to call. A test by hand at two or three places would settle it; nothing is urgent.`
        : say`${value}, at the upper edge of its band of ${edges}: too near to call. A test by hand at two or three places would settle it; nothing is urgent.`
    }
  }
}

function gap(ph: number): string {
  return fixed(ph, 1)
}

function withoutValue(ph: Insufficient, findings: readonly ProbeFinding[]): string {
  const checks = findings.filter((finding) => finding.needsCheck)
  const first = checks[0]
  if (first !== undefined) return say`No pH to go by. ${first.sentence}`
  if (findings.some((finding) => finding.kind === 'dry soil')) {
    return say`The soil is too dry to read pH. Water as the plants need it; the pH comes back by itself a few hours later.`
  }
  return say`No pH to go by: ${ph.have}. Needed: ${ph.need}.`
}

function unique(names: readonly string[]): string[] {
  return Array.from(new Set(names))
}
