import { HOUR } from '../../model/clock.ts'
import { DRY_BELOW } from '../quality/dry-soil.ts'
import { median } from '../stats/median.ts'
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

/** Finite values of the hours `from <= hour <= to` that are still remembered. */
export function recentValues(
  recent: Recent,
  column: RecentColumn,
  from: number,
  to: number,
): number[] {
  const out: number[] = []
  const first = Math.max(from, to - (BACK_HOURS - 1) * HOUR)
  for (let hour = Math.ceil(first / HOUR) * HOUR; hour <= to; hour += HOUR) {
    const slot = slotOf(hour)
    if (recent.hour[slot] !== hour) continue
    const value = recent[column][slot]!
    if (Number.isFinite(value)) out.push(value)
  }
  return out
}

/** As `recentValues`, without the hours in which the soil was known to be too dry. */
export function moistValues(
  recent: Recent,
  column: RecentColumn,
  from: number,
  to: number,
): number[] {
  const out: number[] = []
  const first = Math.max(from, to - (BACK_HOURS - 1) * HOUR)
  for (let hour = Math.ceil(first / HOUR) * HOUR; hour <= to; hour += HOUR) {
    const slot = slotOf(hour)
    if (recent.hour[slot] !== hour || recent.available[slot]! < DRY_BELOW) continue
    const value = recent[column][slot]!
    if (Number.isFinite(value)) out.push(value)
  }
  return out
}

export function recentMedian(
  recent: Recent,
  column: RecentColumn,
  from: number,
  to: number,
): number {
  return median(recentValues(recent, column, from, to))
}

export function recentLeast(
  recent: Recent,
  column: RecentColumn,
  from: number,
  to: number,
): number {
  const values = recentValues(recent, column, from, to)
  return values.length === 0 ? NaN : Math.min(...values)
}

export function recentMost(recent: Recent, column: RecentColumn, from: number, to: number): number {
  const values = recentValues(recent, column, from, to)
  return values.length === 0 ? NaN : Math.max(...values)
}
