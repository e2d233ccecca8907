import type { BedView } from '../../hub/api/schemas/bed.ts'
import { toSay } from './say.ts'

/** How the lanes of the wall lie below each other. */
export const WALL_ORDERS = ['entered', 'standing', 'name'] as const
export type WallOrder = (typeof WALL_ORDERS)[number]
export const ORDER_WORDS: Readonly<Record<WallOrder, string>> = {
  entered: toSay('As entered'),
  standing: toSay('By where they stand'),
  name: toSay('By name'),
}

/** Where beds stand together; what wants somebody comes first. */
export const GROUPS = ['waits', 'out', 'unsure', 'in', 'unknown'] as const
export type Group = (typeof GROUPS)[number]
export const GROUP_WORDS: Readonly<Record<Group, string>> = {
  waits: toSay('An alarm waits'),
  out: toSay('Outside the band'),
  unsure: toSay('Too near the edge to tell'),
  in: toSay('Within the band'),
  unknown: toSay('Not known yet'),
}

/** Where a bed belongs: an alarm nobody has seen goes before everything. */
export function groupOf(bed: Pick<BedView, 'alarms' | 'standing'>): Group {
  const waits = bed.alarms.some(({ state }) => state === 'unacknowledged' || state === 'returned')
  if (waits) return 'waits'
  switch (bed.standing) {
    case 'below':
    case 'above':
      return 'out'
    case 'unsure':
      return 'unsure'
    case 'in band':
      return 'in'
    case 'unknown':
      return 'unknown'
  }
}

/** Beds that stand together, or all of them under no name. */
export interface WallGroup {
  readonly group: Group | null
  readonly beds: readonly BedView[]
}

/** pH between a bed and its band; 0 within it or where that is not known. */
function away({ ph, band: { band } }: BedView): number {
  if (ph.status !== 'ok' || band === null) return 0
  return Math.max(0, band.low - ph.value, ph.value - band.high)
}

/** Letters are compared without case and accents. */
const plain = (text: string): string =>
  text.normalize('NFD').replaceAll(/\p{M}/gu, '').toLowerCase()

/** The beds of the wall in order, those left out that have not these words in their name or crops. */
export function wallGroups(
  beds: readonly BedView[],
  { order, text, locale }: { order: WallOrder; text: string; locale: string },
): readonly WallGroup[] {
  const words = plain(text)
    .split(/\s+/)
    .filter((word) => word !== '')
  const found = beds.filter((bed) => {
    const said = plain([bed.name, ...bed.crops.map(({ name }) => name)].join(' '))
    return words.every((word) => said.includes(word))
  })
  switch (order) {
    case 'entered':
      return found.length === 0 ? [] : [{ group: null, beds: found }]
    case 'name': {
      const sorted = found.toSorted((a, b) => a.name.localeCompare(b.name, locale))
      return sorted.length === 0 ? [] : [{ group: null, beds: sorted }]
    }
    case 'standing':
      return GROUPS.map((group) => ({
        group,
        // Farthest from its band first; beds that stand alike stay as they were entered.
        beds: found.filter((bed) => groupOf(bed) === group).toSorted((a, b) => away(b) - away(a)),
      })).filter((one) => one.beds.length > 0)
  }
}
