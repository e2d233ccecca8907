import { DamagedContent } from './damaged-content.ts'
import type { ByteReader, ByteWriter } from './byte-stream.ts'

/*
 * A column of numbers as what each differs from a guess. A guess looks at what stands before it only, so
 * reading makes the same guesses.
 */

/** What row `i` is expected to hold, given the rows before it. */
export type Guess = (column: ArrayLike<number>, i: number) => number

/** How a column lies: every guess right, each difference, runs of equal differences, the numbers themselves. */
const AS_GUESSED = 0
const EACH = 1
const RUNS = 2
const PLAIN = 3

/** Differences beyond this are not written as such. */
const FARTHEST = 2 ** 51

/** Differences of the column that is being written. */
let differences = new Float64Array(4096)

export function writeColumn(out: ByteWriter, column: readonly number[], guess: Guess): void {
  const n = column.length
  if (n > differences.length) differences = new Float64Array(2 * n)
  let runs = 0
  let right = true
  let before = NaN
  for (let i = 0; i < n; i++) {
    const value = column[i]!
    const guessed = guess(column, i)
    const difference = value - guessed
    const exact =
      Number.isInteger(difference) &&
      Math.abs(difference) <= FARTHEST &&
      guessed + difference === value
    if (!exact) {
      out.uint(PLAIN)
      for (const number of column) out.double(number)
      return
    }
    if (difference !== 0) right = false
    if (difference !== before) runs++
    before = difference
    differences[i] = difference
  }
  if (right) {
    out.uint(AS_GUESSED)
    return
  }
  if (runs * 2 > n) {
    out.uint(EACH)
    for (let i = 0; i < n; i++) out.int(differences[i]!)
    return
  }
  out.uint(RUNS)
  for (let i = 0; i < n;) {
    const from = i
    while (i < n && differences[i] === differences[from]) i++
    out.uint(i - from)
    out.int(differences[from]!)
  }
}

export function readColumn(source: ByteReader, length: number, guess: Guess): number[] {
  const column: number[] = []
  const how = source.uint()
  if (how === PLAIN) for (let i = 0; i < length; i++) column.push(source.double())
  else if (how === EACH)
    for (let i = 0; i < length; i++) column.push(guess(column, i) + source.int())
  else if (how === AS_GUESSED) for (let i = 0; i < length; i++) column.push(guess(column, i))
  else if (how === RUNS)
    while (column.length < length) {
      const run = source.uint()
      const difference = source.int()
      if (run === 0 || run > length - column.length)
        throw new DamagedContent('a column is longer than its block')
      for (let k = 0; k < run; k++) column.push(guess(column, column.length) + difference)
    }
  else throw new DamagedContent(`a column of kind ${how} is not known`)
  if (column.length !== length) throw new DamagedContent('a column is longer than its block')
  return column
}
