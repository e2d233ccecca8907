import { HOUR } from '../../model/clock.ts'
import { DRY_BELOW } from '../quality/dry-soil.ts'
import { BACK_HOURS, type Recent } from './watch-state.ts'

export type RecentColumn = Exclude<keyof Recent, 'hour'>

const slotOf = (hour: number): number => Math.floor(hour / HOUR) % BACK_HOURS

/** Puts one hour in; a later hour in the same place takes over. */
export function putRecent(
  recent: Recent,
  hour: number,
  values: Readonly<Record<RecentColumn, number>>,
): void {
  const slot = slotOf(hour)
  recent.hour[slot] = hour
  recent.ph[slot] = values.ph
  recent.residual[slot] = values.residual
  recent.available[slot] = values.available
  recent.moisture[slot] = values.moisture
  recent.warming[slot] = values.warming
}

/** One value; NaN when that hour is not remembered. */
export function recentAt(recent: Recent, column: RecentColumn, hour: number): number {
  const slot = slotOf(hour)
  return recent.hour[slot] === hour ? recent[column][slot]! : NaN
}

/** Room for the values of one look back: looks never nest, and hours are many. */
const room = new Float64Array(BACK_HOURS)

/** Puts the finite values of the hours `from <= hour <= to` that are still remembered into `room`, and counts them. */
function lookBack(
  recent: Recent,
  column: RecentColumn,
  from: number,
  to: number,
  moist: boolean,
): number {
  let n = 0
  const first = Math.max(from, to - (BACK_HOURS - 1) * HOUR)
  for (let hour = Math.ceil(first / HOUR) * HOUR; hour <= to; hour += HOUR) {
    const slot = slotOf(hour)
    if (recent.hour[slot] !== hour) continue
    if (moist && recent.available[slot]! < DRY_BELOW) continue
    const value = recent[column][slot]!
    if (Number.isFinite(value)) room[n++] = value
  }
  return n
}

export const recentCount = (
  recent: Recent,
  column: RecentColumn,
  from: number,
  to: number,
): number => lookBack(recent, column, from, to, false)

export function recentMedian(
  recent: Recent,
  column: RecentColumn,
  from: number,
  to: number,
): number {
  return middleOfRoom(lookBack(recent, column, from, to, false))
}

/** As `recentMedian`, without hours in which the soil was known to be too dry; NaN below `least` values. */
export function moistMedian(
  recent: Recent,
  column: RecentColumn,
  from: number,
  to: number,
  least: number,
): number {
  const n = lookBack(recent, column, from, to, true)
  return n < least ? NaN : middleOfRoom(n)
}

function middleOfRoom(n: number): number {
  if (n === 0) return NaN
  // In order as they come: a look back is a day or two, and mostly nearly sorted.
  for (let i = 1; i < n; i++) {
    const value = room[i]!
    let at = i
    for (; at > 0 && room[at - 1]! > value; at--) room[at] = room[at - 1]!
    room[at] = value
  }
  const half = n >> 1
  return n % 2 === 1 ? room[half]! : (room[half - 1]! + room[half]!) / 2
}

export function recentLeast(
  recent: Recent,
  column: RecentColumn,
  from: number,
  to: number,
): number {
  const n = lookBack(recent, column, from, to, false)
  let least = NaN
  for (let i = 0; i < n; i++) if (!(room[i]! >= least)) least = room[i]!
  return least
}

export function recentMost(recent: Recent, column: RecentColumn, from: number, to: number): number {
  const n = lookBack(recent, column, from, to, false)
  let most = NaN
  for (let i = 0; i < n; i++) if (!(room[i]! <= most)) most = room[i]!
  return most
}
