import type { BedLook, ProbeFinding, ShiftFinding } from '../analysis/assessment.ts'
import { CAUSE_WORDS } from '../analysis/event-words.ts'
import { shiftSentence } from '../analysis/sentence.ts'
import { said, say, toSay } from '../words/say.ts'

/** What happened, in which bed, how sure. */
export function shiftMessage(look: BedLook, shift: ShiftFinding): string {
  return `${look.bed}: ${shiftSentence(shift)} ${surenessText(shift.sureness)} ${causeText(shift)}`
}

const MEASURE = toSay(
  'Measure by hand first: a slurry of soil and distilled water from two or three places in the bed.',
)
const LOOK_FOR_CAUSE = toSay(
  'Then look for the cause: what was put on in the last weeks, the water it gets, a new mulch or fertiliser, and whether the probes share one supply or cable.',
)
const CHECK_ENTRY = toSay(
  'The journal has an entry that may explain it: check what was put on and how much, against the label.',
)
const WAIT = toSay('Put nothing on the bed until the hand measurement agrees.')
const NO_LIME = toSay(
  'Do not lime against it: an opposite dose on top makes a second shock and a salty soil.',
)
const NO_ACID = toSay(
  'Do not put sulfur, an acid or an acidifying fertiliser against it: an opposite dose on top makes a second shock and a salty soil.',
)
const IF_IT_AGREES = toSay(
  'If the hand measurement agrees, stop what caused it, keep the soil evenly moist and ask your local extension service. With lime, ash, sulfur or acids follow the product label, wear gloves and eye protection, and keep children and animals away.',
)

/**
 * What to do about a change of the bed. Never a dose: a probe alone must not drive one, and the commonest
 * harm is correcting too much.
 */
export function shiftAdvice(shift: ShiftFinding, kind: 'harmful-shift' | 'early-warning'): string {
  const cause = shift.journalId === null ? LOOK_FOR_CAUSE : CHECK_ENTRY
  const rest =
    kind === 'early-warning' ? [WAIT] : [shift.change < 0 ? NO_LIME : NO_ACID, IF_IT_AGREES]
  return [MEASURE, cause, ...rest].map(said).join(' ')
}

const PROBE_ADVICE: Readonly<Record<ProbeFinding['kind'], string>> = {
  'apart from the bed': toSay(
    'Leave the bed as it is. Press the soil around the probe, see whether that spot got something the others did not, then rinse the electrode and check it in two fresh buffer solutions.',
  ),
  'out of range': toSay(
    'Look at plug, cable and electrode, then check it in two fresh buffer solutions; a cracked or dried-out electrode has to be replaced.',
  ),
  'flat line': toSay(
    'See whether the electrode is wet and its cable whole, restart the probe, then check it in two buffer solutions.',
  ),
  uncalibrated: toSay('Calibrate it in two fresh buffer solutions, such as pH 4 and pH 7.'),
  'dry soil': toSay('Nothing is wrong with the probe. Water as the plants need it.'),
}
const PROBE_CARE = toSay(
  'Unplug mains-powered parts before touching anything wet. Write the visit in the journal, so that it is not taken for a change of the soil.',
)

export function probeAdvice(kind: ProbeFinding['kind']): string {
  const advice = said(PROBE_ADVICE[kind])
  return kind === 'dry soil' ? advice : `${advice} ${said(PROBE_CARE)}`
}

function causeText({ cause, decided }: ShiftFinding): string {
  const named = said(CAUSE_WORDS[cause])
  return decided
    ? say`Most likely ${named}.`
    : say`So far it looks like ${named}; that is settled a day after it began.`
}

/** How sure, in a word and in per cent. */
export function surenessText(sureness: number): string {
  // Nothing that was measured in soil is sure altogether.
  const percent = Math.min(99, Math.round(100 * sureness))
  if (sureness >= 0.95) return say`Practically sure (${percent} %).`
  return sureness >= 0.8 ? say`Likely (${percent} %).` : say`Possible (${percent} %).`
}
