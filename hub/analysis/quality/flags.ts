import type { Texture } from '../../model/bed.ts'
import type { SpotHistory } from '../measure/spot-history.ts'
import { clippedValue } from './clipped-value.ts'
import { dryContact } from './dry-contact.ts'
import { DRY_BELOW, availableShare, fieldCapacity } from './dry-soil.ts'
import { electrodeTemperature } from './electrode-temperature.ts'
import { flatLine } from './flat-line.ts'
import { grossRange, isBeyondElectrode } from './gross-range.ts'
import { lowSupply } from './low-supply.ts'
import { neighbours } from './neighbours.ts'
import { usualChange } from './own-noise.ts'
import { QARTOD, flagColumn, graver } from './qartod.ts'
import { QUALITY_TESTS, type TestFlags } from './quality-tests.ts'
import { rateOfChange } from './rate-of-change.ts'
import { serviceWindow } from './service-window.ts'
import { spike } from './spike.ts'
import { unsettled } from './unsettled.ts'
import { probeDoubts } from './wire-flags.ts'
import { say } from '../../words/say.ts'

/** Reasons why a pH does not count; bits, so that one row can have several. */
export const FLAG = {
  missing: 1,
  range: 2,
  temperature: 4,
  flat: 8,
  dry: 16,
  spike: 32,
  service: 64,
} as const

/** A spot's history with the verdict on each row. */
export interface CheckedHistory extends SpotHistory {
  /** Bits of `FLAG`, the failed tests; 0 where the pH counts. What is only suspect counts. */
  readonly flags: Uint8Array
  /** Share of available water, NaN = unknown. */
  readonly available: Float64Array
  /** The flag of each test in each row (see `QARTOD`), and the gravest of a row. */
  readonly tests: TestFlags
  readonly qartod: Uint8Array
}

export interface CheckOptions {
  /**
   * When the probe was calibrated or serviced, epoch ms, ascending. Without it only what the moisture shows of a
   * handling is known.
   * @default null
   */
  readonly serviced?: readonly number[] | null
  /**
   * Bits of the wire format, put together over the readings of each row.
   * @default null
   */
  readonly wire?: Uint8Array | null
}

/**
 * Tests every pH of a spot. Unknown moisture does not gate: a bed whose probes only know pH must still work.
 * `capacity`: moisture at field capacity on this probe's scale; learned from this history when not given.
 */
export function checkHistory(
  history: SpotHistory,
  texture: Texture,
  capacity: number = fieldCapacity(history, texture),
  options: CheckOptions = {},
): CheckedHistory {
  const { serviced = null, wire = null } = options
  const { ph } = history
  const available = availableShare(history, texture, capacity)
  const usual = usualChange(history)
  const tests: TestFlags = {
    grossRange: grossRange(history),
    clipped: clippedValue(history, wire),
    service: serviceWindow(history, serviced),
    flatLine: flatLine(history),
    temperature: electrodeTemperature(history),
    spike: spike(history, usual),
    dryContact: dryContact(ph, available),
    neighbours: flagColumn(ph, QARTOD.notEvaluated),
    rateOfChange: rateOfChange(history, usual),
    unsettled: unsettled(history, texture, capacity),
    supply: lowSupply(history, wire),
    probe: probeDoubts(history, wire),
  }
  const flags = new Uint8Array(ph.length)
  for (let row = 0; row < flags.length; row++) {
    let flag = Number.isNaN(ph[row]) ? FLAG.missing : 0
    const failed = (test: keyof TestFlags): boolean => tests[test][row] === QARTOD.fail
    if (failed('grossRange') || failed('clipped')) flag |= FLAG.range
    if (isBeyondElectrode(history.temperature[row]!)) flag |= FLAG.temperature
    if (failed('flatLine')) flag |= FLAG.flat
    if (available[row]! < DRY_BELOW) flag |= FLAG.dry
    if (failed('spike')) flag |= FLAG.spike
    if (failed('service')) flag |= FLAG.service
    flags[row] = flag
  }
  return { ...history, flags, available, tests, qartod: gravest(tests, ph.length) }
}

/** The spots of one bed held against each other: adds the neighbour test to each. */
export function checkNeighbours(checked: readonly CheckedHistory[]): CheckedHistory[] {
  return checked.map((own) => {
    const others = checked.filter(({ feed }) => feed.spot.id !== own.feed.spot.id)
    const tests = { ...own.tests, neighbours: neighbours(own, others) }
    return { ...own, tests, qartod: gravest(tests, own.qartod.length) }
  })
}

function gravest(tests: TestFlags, rows: number): Uint8Array {
  const out = new Uint8Array(rows).fill(QARTOD.notEvaluated)
  for (const test of QUALITY_TESTS) {
    const column = tests[test]
    for (let row = 0; row < rows; row++) out[row] = graver(out[row]!, column[row]!)
  }
  return out
}

/** The first reason in words why a pH does not count, or null when it does. */
export function reasonOf(flag: number): string | null {
  if ((flag & FLAG.missing) !== 0) return say`no reading`
  if ((flag & FLAG.range) !== 0) return say`a value no soil can have`
  if ((flag & FLAG.service) !== 0) return say`the probe is out of the soil or being handled`
  if ((flag & FLAG.flat) !== 0) return say`the value stands still`
  if ((flag & FLAG.temperature) !== 0) return say`too cold or too hot for the electrode`
  if ((flag & FLAG.spike) !== 0) return say`a lone value far from those before and after`
  if ((flag & FLAG.dry) !== 0) return say`the soil is too dry to read pH`
  return null
}
