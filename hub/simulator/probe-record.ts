import { DAY } from '../model/clock.ts'
import { type BedEvent, type EventKind, SAMPLE_MS } from './bed-events.ts'
import type { BedGround } from './bed-ground.ts'
import type { Visit } from './bed-visits.ts'
import { dryContactBias } from './electrode.ts'
import type { Random } from './random.ts'

/** A spell within one record, epoch ms, `from <= t < to`. */
export interface Spell {
  readonly from: number
  readonly to: number
}

/** What one probe showed, one row per sample, and what is true of it. NaN: no reading. */
export interface ProbeRecord {
  /** pH as shown, codes of failure included. */
  readonly ph: Float64Array
  /** m3/m3 */
  readonly moisture: Float64Array
  /** Degrees Celsius. */
  readonly temperatureC: Float64Array
  /** How far the soil of the spot lies from the bed's, pH, and how strongly it follows the bed. */
  readonly offsetPh: number
  readonly gain: number
  /** Drift of the electrode between visits. */
  readonly driftPhPer30d: number
  /** The contact is so poor that it shows at least 0.35 pH too little. */
  readonly drySpells: readonly Spell[]
  /** As above, at least 0.15 pH: too little to be a fault, enough to be seen. */
  readonly poorSpells: readonly Spell[]
  readonly stuckSpells: readonly Spell[]
  readonly silentSpells: readonly Spell[]
}

const DRY_LABEL_PH = -0.35
const POOR_LABEL_PH = -0.15
const SPIKE_CHANCE = 3e-4
/** Values that failing probes send. */
const SPIKE_CODES = [0, 14, 3, -99_999] as const
const SPOT_WANDER = { sd: 0.05, hours: 20 * 24 } as const
const NOISE = { white: 0.02, dryTimes: 4, sd: 0.05, hours: 6 } as const
const SETTLING = { sd: 0.15, hours: 12 } as const
const CLEANED_SD = 0.03
/** An electrode this far down is replaced; its slope falls no further. */
const LEAST_SLOPE = 0.85

/** Share kept of a first-order wander after one sample, and the standard deviation of what is new. */
function stationary(sd: number, hours: number): { keep: number; fresh: number } {
  const keep = Math.exp(-1 / (4 * hours))
  return { keep, fresh: sd * Math.sqrt(1 - keep * keep) }
}

/**
 * One probe in one spot of a bed: soil of the spot, electrode, contact, noise, visits and faults.
 *
 * @param resolutionPh smallest step it shows
 */
export function probeRecord(
  random: Random,
  spot: number,
  ground: BedGround,
  bed: { readonly startMs: number; readonly days: number; readonly resolutionPh: number },
  events: readonly BedEvent[],
  visits: readonly Visit[],
): ProbeRecord {
  const { startMs, days } = bed
  const samples = ground.ph.length
  const traits = random.split('traits')
  const offsetPh = traits.normal(0, 0.2)
  const gain = traits.normal(1, 0.12)
  const driftPhPer30d = traits.normal(0.09, 0.08)
  const slopeLoss = traits.between(0, 0.06) / (365 * 96)
  const phPerC = traits.between(-0.012, 0.012)
  const moistureGain = traits.normal(1, 0.05)
  const moistureOffset = traits.normal(0, 0.008)
  const contact = traits.normal(1, 0.06)
  const worstContact = traits.between(0.8, 1.6)

  const added = errorsOf(random.split('errors'), spot, startMs, samples, events)
  const driftPerSample = driftPhPer30d / (30 * 96)
  const handling = random.split('handling')
  const mine = visits.filter((visit) => visit.spot === spot)
  let nextVisit = 0
  const sampleOf = (visit: Visit | undefined): number =>
    visit === undefined ? Infinity : Math.round((visit.at - startMs) / SAMPLE_MS)
  let sampleOfVisit = sampleOf(mine[0])
  let zero = handling.normal(0, CLEANED_SD)
  let since = 0
  let kept = 0
  let settling = 0
  const settled = Math.exp(-1 / (4 * SETTLING.hours))

  const ph = new Float64Array(samples)
  const moisture = new Float64Array(samples)
  const temperatureC = new Float64Array(samples)
  const dry = spellsOf()
  const poor = spellsOf()
  const noise = random.split('noise')
  const place = stationary(SPOT_WANDER.sd, SPOT_WANDER.hours)
  const ripple = stationary(NOISE.sd, NOISE.hours)
  let wander = noise.normal(0, SPOT_WANDER.sd)
  let hum = noise.normal(0, NOISE.sd)

  for (let i = 0; i < samples; i++) {
    if (i >= sampleOfVisit) {
      kept += mine[nextVisit]!.stepPh
      zero = handling.normal(0, CLEANED_SD)
      settling = handling.normal(0, SETTLING.sd)
      since = 0
      nextVisit++
      sampleOfVisit = sampleOf(mine[nextVisit])
    }
    wander = place.keep * wander + noise.normal(0, place.fresh)
    hum = ripple.keep * hum + noise.normal(0, ripple.fresh)
    const soil = ground.ph[i]! + (gain - 1) * (ground.ph[i]! - ground.basePh) + offsetPh + wander
    const slope = Math.max(LEAST_SLOPE, 1 - slopeLoss * i)
    const available = ground.available[i]! * contact
    const bias = dryContactBias(available, worstContact)
    const dryness = Math.min(1, Math.max(0, (0.4 - available) / 0.4))
    ph[i] =
      7 +
      (soil - 7) * slope +
      zero +
      kept +
      driftPerSample * since +
      settling +
      phPerC * (ground.temperatureC[i]! - ground.meanC) +
      bias +
      hum +
      noise.normal(0, NOISE.white * (1 + NOISE.dryTimes * dryness)) +
      (added === null ? 0 : added[i]!)
    moisture[i] = ground.moisture[i]! * moistureGain + moistureOffset + noise.normal(0, 0.002)
    temperatureC[i] = ground.temperatureC[i]! + noise.normal(0, 0.1)
    settling *= settled
    since++
    dry.note(bias < DRY_LABEL_PH, startMs + i * SAMPLE_MS)
    poor.note(bias < POOR_LABEL_PH, startMs + i * SAMPLE_MS)
  }

  handle(handling, startMs, mine, ph, moisture)
  const faults = random.split('faults')
  for (let i = 0; i < samples; i++) {
    if (faults.chance(SPIKE_CHANCE)) {
      ph[i] = SPIKE_CODES[Math.floor(faults.between(0, SPIKE_CODES.length))]!
    }
  }
  roundTo(ph, bed.resolutionPh)
  roundTo(moisture, 0.001)
  roundTo(temperatureC, 0.1)
  const spell = (first: number, length: number): Spell => ({
    from: startMs + first * SAMPLE_MS,
    to: startMs + Math.min(first + length, samples) * SAMPLE_MS,
  })
  const stuckSpells: Spell[] = []
  for (const first of arrivals(faults, samples, 0.7)) {
    const length = Math.floor(faults.between(48, 900))
    ph.fill(ph[first]!, first, first + length)
    stuckSpells.push(spell(first, length))
  }
  const silentSpells: Spell[] = []
  for (const first of arrivals(faults, samples, 4)) {
    const length = Math.floor(faults.between(8, 300))
    for (const column of [ph, moisture, temperatureC]) column.fill(NaN, first, first + length)
    silentSpells.push(spell(first, length))
  }
  return {
    ph,
    moisture,
    temperatureC,
    offsetPh,
    gain,
    driftPhPer30d,
    drySpells: dry.upTo(startMs + days * DAY),
    poorSpells: poor.upTo(startMs + days * DAY),
    stuckSpells,
    silentSpells,
  }
}

/** Gathers spells from a condition told moment by moment. */
function spellsOf(): {
  readonly note: (holds: boolean, at: number) => void
  readonly upTo: (end: number) => readonly Spell[]
} {
  const done: Spell[] = []
  let since = NaN
  const close = (at: number): void => {
    if (!Number.isNaN(since)) done.push({ from: since, to: at })
    since = NaN
  }
  return {
    note(holds, at) {
      if (!holds) close(at)
      else if (Number.isNaN(since)) since = at
    },
    upTo(end) {
      close(end)
      return done
    },
  }
}

/** Samples at which something starts that comes so many times a year, at random. */
function* arrivals(random: Random, samples: number, perYear: number): Generator<number> {
  const mean = (365 * 96) / perYear
  for (let at = random.exponential(mean); at < samples; at += random.exponential(mean)) {
    yield Math.floor(at)
  }
}

function roundTo(column: Float64Array, step: number): void {
  // Dividing by a whole number gives the nearest double to the decimal; multiplying by 0.01 does not.
  const per = Math.round(1 / step)
  for (let i = 0; i < column.length; i++) column[i] = Math.round(column[i]! * per) / per
}

/** While a probe is handled it shows the buffers, first 7, then 4, and no soil. */
function handle(
  random: Random,
  startMs: number,
  visits: readonly Visit[],
  ph: Float64Array,
  moisture: Float64Array,
): void {
  for (const { at, samples } of visits) {
    const first = Math.round((at - startMs) / SAMPLE_MS)
    for (let k = 0; k < samples && first + k < ph.length; k++) {
      ph[first + k] = (k < samples / 2 ? 7 : 4) + random.normal(0, 0.02)
      moisture[first + k] = random.between(0, 0.01)
    }
  }
}

const PROBE_KINDS: ReadonlySet<EventKind> = new Set([
  'probe',
  'controller fault',
  'creeping death',
  'battery sag',
  'freezing',
])

/** pH that faults of this probe and of the controller add to its samples; null when there are none. */
function errorsOf(
  random: Random,
  spot: number,
  startMs: number,
  samples: number,
  events: readonly BedEvent[],
): Float64Array | null {
  let out: Float64Array | null = null
  for (const { kind, onset, spot: only, sizePh, lastingMs } of events) {
    if ((only !== null && only !== spot) || !PROBE_KINDS.has(kind)) continue
    const first = Math.round((onset - startMs) / SAMPLE_MS)
    const last = Math.min(samples, Math.round((onset + lastingMs - startMs) / SAMPLE_MS))
    const errors = (out ??= new Float64Array(samples))
    if (kind === 'probe') for (let i = first; i < samples; i++) errors[i]! += sizePh
    if (kind === 'controller fault') for (let i = first; i < last; i++) errors[i]! += sizePh
    if (kind === 'creeping death') {
      for (let i = first; i < samples; i++) {
        errors[i]! += sizePh * Math.min(1, (i - first) / (last - first))
      }
    }
    if (kind === 'battery sag') {
      for (let i = first; i < last; i++) {
        if (random.chance((i - first) / (last - first))) errors[i]! -= random.between(0, sizePh)
      }
    }
    if (kind === 'freezing') {
      let side = 0
      for (let i = first; i < last; i++) {
        if (random.chance(0.15)) side = Math.floor(random.between(-1, 2))
        errors[i]! += side * sizePh
      }
    }
  }
  return out
}
