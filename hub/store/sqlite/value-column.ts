import { DamagedContent } from './damaged-content.ts'
import type { ByteReader, ByteWriter } from './byte-stream.ts'

/** In a column of values: the reading did not hold this channel. No value is infinite. */
export const ABSENT = Infinity

/*
 * Values of one channel. A sensor's values are whole multiples of a small step: written as differences of
 * those multiples. What has no step in the list is written as it is.
 */

/** 1 : step. Decimal places as text gives them, binary ones as converters do. */
const SCALES: readonly number[] = [1, 2, 4, 8, 10, 16, 32, 64, 100, 1000, 10_000]
/** Stands for the scale of values written as they are. */
const PLAIN = 15
/** Added to the scale: runs of equal codes. */
const RUNS = 16
const LARGEST = 2 ** 50

/** Codes below those of differences. */
const CODE_ABSENT = 0
const CODE_FAILED = 1
const CODES = 2

function fits(values: readonly number[], scale: number): boolean {
  for (const value of values) {
    if (value === ABSENT || Number.isNaN(value)) continue
    const scaled = Math.round(value * scale)
    if (!(Math.abs(scaled) <= LARGEST) || scaled / scale !== value) return false
  }
  return true
}

/** Codes of the column that is being written. */
let codes = new Float64Array(4096)

export function writeValues(out: ByteWriter, values: readonly number[]): void {
  const which = SCALES.findIndex((one) => fits(values, one))
  const scale = SCALES[which]
  if (scale === undefined) {
    out.uint(PLAIN)
    for (const value of values) out.double(value)
    return
  }
  const n = values.length
  if (n > codes.length) codes = new Float64Array(2 * n)
  let runs = 0
  let before = 0
  for (let i = 0; i < n; i++) {
    const value = values[i]!
    let code = CODE_FAILED
    if (value === ABSENT) code = CODE_ABSENT
    else if (!Number.isNaN(value)) {
      const scaled = Math.round(value * scale)
      const difference = scaled - before
      code = CODES + (difference < 0 ? -2 * difference - 1 : 2 * difference)
      before = scaled
    }
    if (i === 0 || codes[i - 1] !== code) runs++
    codes[i] = code
  }
  if (runs * 2 > n) {
    out.uint(which)
    for (let i = 0; i < n; i++) out.uint(codes[i]!)
    return
  }
  out.uint(which + RUNS)
  for (let i = 0; i < n;) {
    const from = i
    while (i < n && codes[i] === codes[from]) i++
    out.uint(i - from)
    out.uint(codes[from]!)
  }
}

export function readValues(source: ByteReader, length: number): number[] {
  const values: number[] = []
  const how = source.uint()
  if (how === PLAIN) {
    for (let i = 0; i < length; i++) values.push(source.double())
    return values
  }
  const scale = SCALES[how % RUNS]
  if (scale === undefined) throw new DamagedContent(`values of kind ${how} are not known`)
  let before = 0
  const add = (code: number): void => {
    if (code === CODE_ABSENT) values.push(ABSENT)
    else if (code === CODE_FAILED) values.push(NaN)
    else {
      const folded = code - CODES
      before += folded % 2 === 0 ? folded / 2 : -(folded + 1) / 2
      values.push(before / scale)
    }
  }
  if (how < RUNS) for (let i = 0; i < length; i++) add(source.uint())
  else
    while (values.length < length) {
      const run = source.uint()
      const code = source.uint()
      if (run === 0 || run > length - values.length)
        throw new DamagedContent('values are more than their block has')
      for (let k = 0; k < run; k++) add(code)
    }
  return values
}
