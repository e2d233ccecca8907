import { amendmentOf } from '../../agronomy/amendments.ts'
import { DAY } from '../../model/clock.ts'
import type { Dose } from './dose-effect.ts'

/** Doses of one material so close together that their effects cannot be told apart: one treatment in portions. */
export interface DoseGroup {
  readonly ids: readonly number[]
  /** Of the first, epoch ms. */
  readonly at: number
  /** In the words of the first. */
  readonly material: string
  /** The same for the same material however it is written. */
  readonly key: string
  /** False for what is known to leave pH alone. */
  readonly moves: boolean
}

/** Closer than this the weekly values cannot tell two doses apart. */
export const PORTIONS_MS = 21 * DAY

/** Doses in the order of time, portions of the same material taken together. */
export function doseGroups(doses: readonly Dose[]): readonly DoseGroup[] {
  const groups: { ids: number[]; at: number; material: string; key: string; moves: boolean }[] = []
  for (const { id, at, material } of doses.toSorted((a, b) => a.at - b.at || a.id - b.id)) {
    const row = amendmentOf(material)
    const key = row?.slug ?? material.trim().toLowerCase()
    const open = groups.findLast((group) => group.key === key && at - group.at < PORTIONS_MS)
    if (open !== undefined) open.ids.push(id)
    else groups.push({ ids: [id], at, material, key, moves: row?.direction !== 'none' })
  }
  return groups
}
