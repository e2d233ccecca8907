import type { BedLook, ProbeFinding, ShiftFinding } from '../analysis/assessment.ts'
import { CAUSE_WORDS } from '../analysis/event-words.ts'
import { shiftSentence } from '../analysis/sentence.ts'

/** What happened, in which bed, how sure. */
export function shiftMessage(look: BedLook, shift: ShiftFinding): string {
  return `${look.bed}: ${shiftSentence(shift)} ${surenessText(shift.sureness)} ${causeText(shift)}`
}

/**
 * What to do about a change of the bed. Never a dose: a probe alone must not drive one, and the commonest
 * harm is correcting too much.
 */
export function shiftAdvice(shift: ShiftFinding, kind: 'harmful-shift' | 'early-warning'): string {
  const check =
    'Measure by hand first: a slurry of soil and distilled water from two or three places in the bed.'
  const cause =
    shift.journalId === null
      ? 'Then look for the cause: what was put on in the last weeks, the water it gets, a new mulch or fertiliser, and whether the probes share one supply or cable.'
      : 'The journal has an entry that may explain it: check what was put on and how much, against the label.'
  if (kind === 'early-warning') {
    return `${check} ${cause} Put nothing on the bed until the hand measurement agrees.`
  }
  const wrong =
    shift.change < 0
      ? 'Do not lime against it'
      : 'Do not put sulfur, an acid or an acidifying fertiliser against it'
  return `${check} ${cause} ${wrong}: an opposite dose on top makes a second shock and a salty soil. If the hand measurement agrees, stop what caused it, keep the soil evenly moist and ask your local extension service. With lime, ash, sulfur or acids follow the product label, wear gloves and eye protection, and keep children and animals away.`
}

export function probeAdvice(kind: ProbeFinding['kind']): string {
  const care =
    'Unplug mains-powered parts before touching anything wet. Write the visit in the journal, so that it is not taken for a change of the soil.'
  switch (kind) {
    case 'apart from the bed':
      return `Leave the bed as it is. Press the soil around the probe, see whether that spot got something the others did not, then rinse the electrode and check it in two fresh buffer solutions. ${care}`
    case 'out of range':
      return `Look at plug, cable and electrode, then check it in two fresh buffer solutions; a cracked or dried-out electrode has to be replaced. ${care}`
    case 'flat line':
      return `See whether the electrode is wet and its cable whole, restart the probe, then check it in two buffer solutions. ${care}`
    case 'uncalibrated':
      return `Calibrate it in two fresh buffer solutions, such as pH 4 and pH 7. ${care}`
    case 'dry soil':
      return 'Nothing is wrong with the probe. Water as the plants need it.'
  }
}

function causeText({ cause, decided }: ShiftFinding): string {
  return decided
    ? `Most likely ${CAUSE_WORDS[cause]}.`
    : `So far it looks like ${CAUSE_WORDS[cause]}; that is settled a day after it began.`
}

function surenessText(sureness: number): string {
  const percent = Math.round(100 * sureness)
  const word = sureness >= 0.95 ? 'Practically sure' : sureness >= 0.8 ? 'Likely' : 'Possible'
  return `${word} (${percent} %).`
}
