import { DAY } from '../../model/clock.ts'
import type { SpotHistory } from '../measure/spot-history.ts'
import { mad } from '../stats/mad.ts'
import { median } from '../stats/median.ts'
import { QARTOD, flagColumn } from './qartod.ts'

/** Habit and noise are drawn from pieces of this length, and from so many pieces before. */
const PIECE_MS = 5 * DAY
const PIECES = 6
const LEAST_PIECES = 2
const LEAST_HOURS = 24
/** Beyond its habit a spot has left the bed by so many pH at least, and so many of its usual deviations. */
const APART = { ph: 0.5, noise: 5 } as const

/** A spot's hours and which of them count (0 in `flags`). */
export type Neighbour = Pick<SpotHistory, 'time' | 'ph' | 'step'> & { readonly flags: Uint8Array }

interface Piece {
  readonly habit: number
  readonly noise: number
}

/**
 * Neighbour test: suspect where a spot deviates from the median of the other spots in the same hour by more than its
 * habit and noise of the last month allow. Only hours before are learned from; a spot that stays away becomes its own
 * habit after some weeks. Not evaluated without ten days to learn from, without others, or when rows are not hours.
 */
export function neighbours(own: Neighbour, others: readonly Neighbour[]): Uint8Array {
  const flags = flagColumn(own.ph, QARTOD.notEvaluated)
  if (own.step !== 'hour' || others.length === 0) return flags
  const deviation = deviations(own, others)
  const pieces: Piece[] = []
  let current: Piece | null = null
  let learning: number[] = []
  let piece = NaN
  for (let row = 0; row < flags.length; row++) {
    const number = Math.floor(own.time[row]! / PIECE_MS)
    if (number !== piece) {
      if (learning.length >= LEAST_HOURS) pieces.push(pieceOf(learning))
      if (pieces.length > PIECES) pieces.shift()
      current = pieces.length < LEAST_PIECES ? null : together(pieces)
      learning = []
      piece = number
    }
    const off = deviation[row]!
    if (Number.isNaN(off) || flags[row] === QARTOD.missing) continue
    if (own.flags[row] === 0) learning.push(off)
    if (current === null) continue
    const limit = Math.max(APART.ph, APART.noise * current.noise)
    flags[row] = Math.abs(off - current.habit) > limit ? QARTOD.suspect : QARTOD.pass
  }
  return flags
}

/** Own pH less the median of the others that count in the same hour; NaN where none does. */
function deviations(own: Neighbour, others: readonly Neighbour[]): Float64Array {
  const out = new Float64Array(own.time.length).fill(NaN)
  const at = others.map(() => 0)
  for (let row = 0; row < out.length; row++) {
    const time = own.time[row]!
    const values: number[] = []
    for (const [i, other] of others.entries()) {
      let next = at[i]!
      while (next < other.time.length && other.time[next]! < time) next++
      at[i] = next
      if (other.time[next] !== time || other.flags[next] !== 0) continue
      values.push(other.ph[next]!)
    }
    if (values.length > 0) out[row] = own.ph[row]! - middleOf(values)
  }
  return out
}

function pieceOf(values: readonly number[]): Piece {
  return { habit: median(values), noise: mad(values) }
}

function together(pieces: readonly Piece[]): Piece {
  return {
    habit: median(pieces.map(({ habit }) => habit)),
    noise: median(pieces.map(({ noise }) => noise)),
  }
}

/** Median of the few values there are. */
function middleOf(values: number[]): number {
  values.sort((a, b) => a - b)
  const half = values.length >> 1
  return values.length % 2 === 1 ? values[half]! : (values[half - 1]! + values[half]!) / 2
}
