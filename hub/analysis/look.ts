import type { Bed } from '../model/bed.ts'
import { DAY } from '../model/clock.ts'
import type { BedLook, ProbeFinding, ShiftFinding, WaterFinding } from './assessment.ts'
import { bandFor } from './band.ts'
import { ph1 } from './format.ts'
import { waterGrounds, waterSentence } from './moisture/water-words.ts'
import { FLAG } from './quality/flags.ts'
import { normalCdf } from './stats/distributions.ts'
import { median } from './stats/median.ts'
import type { Cause, WatchEvent } from './watch/event.ts'
import type { WatchView } from './watch/watch-view.ts'
import { say } from '../words/say.ts'

/** A net change of the bed beyond this within 30 days harms roots and soil life, pH. */
const HARMFUL_CHANGE = 1
/** From here it is worth a word, pH. */
const EARLY_CHANGE = 0.5
const WINDOW_MS = 30 * DAY
/** Least probability that the change is beyond the limit of its grade. */
const SURE_ENOUGH = 0.6
/** A single probe cannot tell soil from electrode: its word must stay this long, and is never quite sure. */
const ALONE_LASTING_MS = DAY
const ALONE_SURENESS = 0.6
/** A change back by no more than the change before it, and a half, is a return. */
const RETURN_SHARE = 0.67
/** Causes that change the bed, not only what one probe shows. */
const OF_THE_BED: ReadonlySet<Cause> = new Set(['soil', 'treatment', 'water', 'unconfirmed'])
/** A probe this far from where it was, while the others stayed, is worth a look, pH. */
const APART = 0.5
/** Quantile of a normal 90 % interval. */
const Z90 = 1.645

/** One probe as it shows now. */
export interface LookProbe {
  readonly spotId: number
  readonly spot: string
  readonly probe: string
  /** Level it shows, NaN = none. */
  readonly ph: number
  /** Bits of `FLAG`. */
  readonly flags: number
  /** Why its pH does not count, whatever the watch says; null when it does. */
  readonly leftOut: string | null
  readonly uncalibrated: boolean
}

/** What the watch says of a bed, in the terms alarms are made of. */
export function lookAt(
  bed: Bed,
  probes: readonly LookProbe[],
  view: WatchView,
  at: number,
  band: Pick<BedLook, 'stay' | 'ahead'>,
): BedLook {
  const apart = apartOf(view, probes)
  const counting = new Set(
    probes.flatMap((p) =>
      p.leftOut === null && !apart.some((a) => a.probe === p) ? p.spotId : [],
    ),
  )
  // One probe that left the others is kept out as long as two agree without it.
  const outvoted = counting.size >= 2
  return {
    bedId: bed.id,
    bed: bed.name,
    at,
    shift: shiftOf(view, probes, at),
    probes: findingsOf(probes, apart),
    water: waterOf(view, probes),
    ...band,
    hasBand: bandFor(bed).band !== null,
    spots: probes.map((p) => ({
      spotId: p.spotId,
      spot: p.spot,
      probe: p.probe,
      leftOut:
        p.leftOut ??
        (outvoted && apart.some((a) => a.probe === p)
          ? say`it moved by itself while the rest of the bed stayed`
          : null),
    })),
  }
}

/** The largest change of the bed within 30 days that still stands. */
function shiftOf(view: WatchView, probes: readonly LookProbe[], at: number): ShiftFinding | null {
  let most: ShiftFinding | null = null
  for (const event of view.events) {
    if (!OF_THE_BED.has(event.cause) || event.state === 'recovered') continue
    if (event.onset < at - WINDOW_MS || isReturn(event, view.events)) continue
    const found = shiftFrom(event, probes, at)
    if (found !== null && (most === null || Math.abs(found.change) > Math.abs(most.change))) {
      most = found
    }
  }
  return most
}

/**
 * The bed, or the one probe, only came back from an earlier change, to where it was within these 30 days. What begins
 * after the earlier change was over, or undoes what was itself a return, leaves the normal level anew.
 */
function isReturn(event: WatchEvent, all: readonly WatchEvent[]): boolean {
  return all.some(
    (earlier) =>
      earlier.state === 'recovered' &&
      (earlier.endedAt === null || earlier.endedAt > event.onset) &&
      isSameSubject(earlier, event) &&
      earlier.onset < event.onset &&
      event.onset - earlier.onset <= WINDOW_MS &&
      Math.sign(earlier.size) === -Math.sign(event.size) &&
      Math.abs(earlier.size) >= RETURN_SHARE * Math.abs(event.size) &&
      !isReturn(earlier, all),
  )
}

/** Both of the bed, or both of the same single probe. */
function isSameSubject(a: WatchEvent, b: WatchEvent): boolean {
  if (OF_THE_BED.has(a.cause) || OF_THE_BED.has(b.cause)) {
    return OF_THE_BED.has(a.cause) && OF_THE_BED.has(b.cause)
  }
  const own = a.spots.find((s) => s.moved)
  return b.spots.some((s) => s.moved && s.spotId === own?.spotId && s.probe === own.probe)
}

function shiftFrom(
  event: WatchEvent,
  probes: readonly LookProbe[],
  at: number,
): ShiftFinding | null {
  const change = Number.isFinite(event.present) ? event.present : event.size
  if (Math.abs(change) < EARLY_CHANGE || Math.sign(change) !== Math.sign(event.size)) return null
  const spots = new Set(event.spots.map(({ spotId }) => spotId))
  const alone = event.cause === 'unconfirmed' || spots.size === 1
  if (alone && at - event.onset < ALONE_LASTING_MS) return null
  const surenessOf = (limit: number): number =>
    Math.min(alone ? ALONE_SURENESS : 0.99, normalCdf((Math.abs(change) - limit) / event.sizeSe))
  const harmful = Math.abs(change) > HARMFUL_CHANGE && surenessOf(HARMFUL_CHANGE) >= SURE_ENOUGH
  if (!harmful && surenessOf(EARLY_CHANGE) < SURE_ENOUGH) return null
  const nameOf = (spotId: number): string =>
    probes.find((p) => p.spotId === spotId)?.spot ?? say`spot ${spotId}`
  const names = (moved: boolean): string[] =>
    Array.from(
      new Set(
        event.spots
          .filter((s) => s.moved === moved && (moved || Number.isFinite(s.change)))
          .map((s) => nameOf(s.spotId)),
      ),
    )
  const from = median(event.spots.flatMap((s) => (s.moved ? s.before : [])))
  return {
    grade: harmful ? 'harmful' : 'early',
    from,
    to: from + change,
    change,
    changeHalfWidth: Z90 * event.sizeSe,
    since: event.onset,
    spotsMoved: names(true),
    spotsSteady: names(false),
    sureness: surenessOf(harmful ? HARMFUL_CHANGE : EARLY_CHANGE),
    journalId: event.evidence.journalId,
    cause: event.cause,
    decided: event.decidedAt !== null,
    event,
  }
}

interface ApartProbe {
  readonly probe: LookProbe
  readonly from: number
  readonly to: number
  readonly since: number
}

/** Probes that left the others by themselves and have not come back. */
function apartOf(view: WatchView, probes: readonly LookProbe[]): ApartProbe[] {
  return view.events.flatMap((event) => {
    if (event.cause !== 'probe' || event.state === 'recovered') return []
    if (event.onset < view.at - WINDOW_MS || isReturn(event, view.events)) return []
    const change = Number.isFinite(event.present) ? event.present : event.size
    if (Math.abs(change) < APART) return []
    const move = event.spots.find((s) => s.moved)
    const probe = probes.find((p) => p.spotId === move?.spotId && p.probe === move.probe)
    if (move === undefined || probe === undefined) return []
    return { probe, from: move.before, to: move.before + change, since: event.onset }
  })
}

/** What keeps a probe's pH from being believed, and what only needs telling. */
function findingsOf(probes: readonly LookProbe[], apart: readonly ApartProbe[]): ProbeFinding[] {
  return probes.flatMap((own) => {
    const findings: ProbeFinding[] = []
    const tell = (
      kind: ProbeFinding['kind'],
      needsCheck: boolean,
      sentence: string,
      level: Partial<Pick<ProbeFinding, 'from' | 'to' | 'since'>> = {},
    ): void => {
      findings.push({
        probe: own.probe,
        spot: own.spot,
        kind,
        needsCheck,
        from: level.from ?? null,
        to: level.to ?? null,
        since: level.since ?? null,
        sentence,
      })
    }
    const who = say`Probe ${own.probe} (${own.spot})`
    const ph = Number.isFinite(own.ph) ? say`pH ${ph1(own.ph)}` : say`a pH`
    if ((own.flags & FLAG.range) !== 0) {
      tell(
        'out of range',
        true,
        say`${who} shows ${ph}, which no soil has. Look at its plug, cable and electrode.`,
        { to: own.ph },
      )
    } else if ((own.flags & FLAG.flat) !== 0) {
      tell(
        'flat line',
        true,
        say`${who} has shown exactly the same value for hours. A sound electrode is never that quiet: look at its cable and whether the electrode is wet.`,
        { to: own.ph },
      )
    }
    const away = apart.find(({ probe }) => probe === own)
    if (away !== undefined) {
      tell(
        'apart from the bed',
        true,
        say`${who} went from pH ${ph1(away.from)} to ${ph1(away.to)} while the rest of the bed stayed. Most likely it is the electrode or its contact with the soil, not the bed. Check it in buffer solutions.`,
        { from: away.from, to: away.to, since: away.since },
      )
    }
    if (own.uncalibrated) {
      tell(
        'uncalibrated',
        false,
        say`${who} has no calibration yet. Its pH is read as if the electrode were ideal and may be half a unit off; two buffer solutions settle it.`,
      )
    }
    if ((own.flags & FLAG.dry) !== 0) {
      tell(
        'dry soil',
        false,
        say`The soil is too dry for probe ${own.probe} (${own.spot}) to read pH. Its values are kept but do not count until the soil is moist again.`,
      )
    }
    return findings
  })
}

/** Water of the bed, with the names of its spots. */
function waterOf({ water, waterCourse }: WatchView, probes: readonly LookProbe[]): WaterFinding {
  const named = {
    ...water,
    spots: water.spots.map((s) => ({
      ...s,
      spot: probes.find((p) => p.spotId === s.spotId)?.spot ?? say`spot ${s.spotId}`,
    })),
  }
  const course = waterCourse ?? {
    state: 'unknown',
    since: water.at,
    turning: null,
    soakedSince: null,
  }
  return {
    state: course.state,
    since: course.state === 'unknown' ? null : course.since,
    standing: named,
    sentence: waterSentence(course, named),
    grounds: waterGrounds(named),
  }
}
