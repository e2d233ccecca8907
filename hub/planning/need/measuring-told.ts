import {
  BAND_TOLERANCE_PH,
  FERTILISER_DAYS,
  SAMPLE_APART_PH,
  WANTED_VALID_DAYS,
} from '../../agronomy/planning-limits.ts'
import type { WatchEvent } from '../../analysis/watch/event.ts'
import { changeText } from '../amount-words.ts'
import type { BedFacts } from '../bed-facts.ts'
import { capital } from '../capital.ts'
import { dayFrom, startOf } from '../calendar.ts'
import { DAY } from '../../model/clock.ts'
import { tell, type Told } from '../told.ts'
import { fertilised, unclearTreatments } from '../went-on.ts'
import { confirmationOf } from './confirm-level.ts'
import { counted, dayText, listed } from '../../words/figure.ts'
import { said, say, toSay } from '../../words/say.ts'

/** What keeps the readings from being believed just now: sudden changes, drifting electrodes, salt of fertiliser. */
export function measuringTold(facts: BedFacts): readonly Told[] {
  return [
    ...suddenChange(facts),
    ...drift(facts),
    ...uncalibrated(facts),
    ...salt(facts),
    ...unknown(facts),
  ]
}

/** A probe that left its bed by itself does not count; the others still tell. */
const OF_ONE_PROBE: ReadonlySet<WatchEvent['cause']> = new Set(['probe', 'service', 'dry contact'])

/** A change of the bed itself that goes on, and what of it counts when something is decided. */
export interface OpenChange {
  readonly event: WatchEvent
  /** `alone`: one probe left its bed; `kept`: the soil moved, stayed there, and a sample agrees; `open`: not settled. */
  readonly standing: 'alone' | 'kept' | 'open'
}

export function openChanges(facts: BedFacts): readonly OpenChange[] {
  const { assessment } = facts
  if (assessment === null) return []
  const open = new Map<string, WatchEvent>()
  for (const event of assessment.watch.events) if (event.state === 'open') open.set(event.id, event)
  const { shift } = assessment
  if (shift !== null && shift.event.state === 'open') open.set(shift.event.id, shift.event)
  return Array.from(open.values(), (event): OpenChange => {
    const others = assessment.spots.some(
      ({ spotId, leftOut }) =>
        leftOut === null && !event.spots.some((s) => s.spotId === spotId && s.moved),
    )
    if (OF_ONE_PROBE.has(event.cause) && others) return { event, standing: 'alone' }
    return { event, standing: isConfirmed(facts, event) ? 'kept' : 'open' }
  })
}

function suddenChange(facts: BedFacts): readonly Told[] {
  const { bed, zone } = facts
  return openChanges(facts).map(({ event, standing }) => {
    const when = dayText(event.onset, zone)
    const by = say`(${changeText(event.present)} pH)`
    switch (standing) {
      case 'kept':
        return tell(
          'warn',
          say`${bed.name} changed suddenly on ${when} ${by} and has kept its new level since; your newest sample agrees. Find out what did it, or it will do it again.`,
          say`What was put right without its cause comes back.`,
          ['MEM'],
        )
      case 'alone':
        return tell(
          'warn',
          say`One probe of ${bed.name} left the others on ${when} ${by}. It does not count; see to it before anything is put on.`,
          said(NOT_SO_FAST),
          ['SCOTT2001', 'PAGANI2012'],
          { settle: 'sample' },
        )
      case 'open':
        return tell(
          'ask',
          say`${bed.name} changed suddenly on ${when} ${by} and it is not settled yet: it takes ${WANTED_VALID_DAYS.value} days at the new level, until ${dayText(event.onset + KEPT_MS, zone)}, and a slurry or laboratory sample from after it that agrees.`,
          said(NOT_SO_FAST),
          ['SCOTT2001', 'PAGANI2012'],
          { settle: 'sample' },
        )
    }
  })
}

const NOT_SO_FAST = toSay(
  'Soil does not move that fast by itself; what looks like it is mostly water, salt or the probe.',
)

/** Days to come to the new level, and the valid days a level takes. */
const KEPT_MS = (2 + WANTED_VALID_DAYS.value) * DAY

/** Its cause is settled, it lasts, and a sample taken after it tells the same as the probes. */
function isConfirmed(facts: BedFacts, { onset, decidedAt }: WatchEvent): boolean {
  const confirmation = confirmationOf(facts)
  return (
    decidedAt !== null &&
    facts.at >= onset + KEPT_MS &&
    confirmation !== null &&
    confirmation.at >= onset + DAY &&
    confirmation.apart !== null &&
    Math.abs(confirmation.apart) <= SAMPLE_APART_PH.value
  )
}

function drift({ bed, study, at }: BedFacts): readonly Told[] {
  if (study === null) return []
  const probes = study.electrodes.flatMap(({ probe, drift: own }) =>
    own.status === 'ok' && own.drifts
      ? [say`${probe} (${changeText(own.per30Days)} pH in 30 days)`]
      : [],
  )
  const told: Told[] = []
  if (probes.length > 0) {
    told.push(
      tell(
        'ask',
        probes.length === 1
          ? say`In ${bed.name} ${counted(probes.length, 'electrode')} drifts: ${listed(probes)}. Calibrate before anything is put on.`
          : say`In ${bed.name} ${counted(probes.length, 'electrode')} drift: ${listed(probes)}. Calibrate before anything is put on.`,
        say`A drifting electrode looks just like soil that turns sour or sweet.`,
        ['MEM'],
        { settle: 'calibrate' },
      ),
    )
  }
  // What its calibrations took away again and again it will have gathered by now.
  const gathered = study.electrodes.flatMap(({ probe, since, jumps, drift: own }) => {
    if (jumps.status !== 'ok' || !jumps.drifts || since === null) return []
    const by = (jumps.per30Days * (at - since)) / (30 * DAY)
    const seen = own.status === 'ok' && own.drifts
    return seen || Math.abs(by) < BAND_TOLERANCE_PH.value
      ? []
      : [say`${probe} (about ${changeText(by)} pH)`]
  })
  if (gathered.length > 0) {
    told.push(
      tell(
        'ask',
        gathered.length === 1
          ? say`In ${bed.name} ${listed(gathered)} has drifted since the last calibration, if it went as between those before. Calibrate before anything is put on.`
          : say`In ${bed.name} ${listed(gathered)} have drifted since the last calibration, if it went as between those before. Calibrate before anything is put on.`,
        say`A drifting electrode looks just like soil that turns sour or sweet.`,
        ['MEM'],
        { settle: 'calibrate' },
      ),
    )
  }
  const { samples } = study
  if (samples.status === 'ok' && samples.drifts) {
    told.push(
      tell(
        'ask',
        say`The probes of ${bed.name} move away from your samples, by ${changeText(samples.per30Days)} pH in 30 days. Calibrate them before anything is put on.`,
        say`What all electrodes of a bed do alike shows only against samples.`,
        ['YANG1994'],
        { settle: 'calibrate' },
      ),
    )
  }
  return told
}

function uncalibrated({ bed, assessment }: BedFacts): readonly Told[] {
  const found = assessment?.probes.filter(({ kind }) => kind === 'uncalibrated') ?? []
  if (assessment === null || found.length === 0) return []
  const probes = Array.from(new Set(found.map(({ probe }) => probe)))
  const all = assessment.spots.every(({ probe }) => probes.includes(probe))
  const then = all
    ? say`Calibrate before anything is put on.`
    : say`Calibrate before you rely on it.`
  return [
    tell(
      all ? 'ask' : 'warn',
      probes.length === 1
        ? say`In ${bed.name} ${listed(probes)} was never calibrated. ${then}`
        : say`In ${bed.name} ${listed(probes)} were never calibrated. ${then}`,
      say`Without two buffers the level of an electrode is not known.`,
      ['EPA9045'],
      { settle: 'calibrate' },
    ),
  ]
}

function salt(facts: BedFacts): readonly Told[] {
  const { bed, zone } = facts
  const newest = fertilised(facts, FERTILISER_DAYS.value).at(-1)
  if (newest === undefined) return []
  const until = startOf(dayFrom(newest.at + FERTILISER_DAYS.value * DAY, zone), zone)
  return [
    tell(
      'wait',
      say`${capital(said(newest.material ?? toSay('fertiliser')))} went on ${bed.name} on ${dayText(newest.at, zone)}: wait until ${dayText(until, zone)} and measure again before anything is decided.`,
      say`Salt of a fertiliser lowers the pH in water by 0.5 to 1.5 for weeks; the soil has not turned sour.`,
      [FERTILISER_DAYS.source],
      { until },
    ),
  ]
}

/** A test so soon after organic matter may mislead: RHS_ACID names three months. */
const UNCLEAR_DAYS = 90

function unknown(facts: BedFacts): readonly Told[] {
  const { bed, zone } = facts
  const newest = unclearTreatments(facts, UNCLEAR_DAYS).at(-1)
  if (newest === undefined) return []
  return [
    tell(
      'warn',
      say`${capital(said(newest.material ?? toSay('a treatment')))} went on ${bed.name} on ${dayText(newest.at, zone)}: what it does to the pH is not known, and it may go on for ${UNCLEAR_DAYS} days. A new sample before a dose is better.`,
      say`Soon after organic matter or fertiliser a test may mislead.`,
      ['RHS_ACID'],
      { settle: 'sample' },
    ),
  ]
}
