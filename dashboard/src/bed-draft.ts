import type { BedInput, BedView } from '../../hub/api/schemas/bed.ts'
import { toStored } from './format.ts'
import { amountField, fieldNumber, notNumber, parseNumber } from './number-field.ts'
import type { Units } from './format.ts'

/** A bed as it stands in the form. */
export interface BedDraft {
  readonly name: string
  readonly area: string
  readonly depth: string
  readonly texture: string
  readonly crops: readonly string[]
  readonly own: boolean
  readonly low: string
  readonly high: string
}

export function bedDraft(bed: BedView | null, units: Units): BedDraft {
  return {
    name: bed?.name ?? '',
    area: amountField('area', bed?.areaM2 ?? null, units),
    depth: amountField('depth', bed?.depthM ?? null, units),
    texture: bed?.texture ?? 'raised-bed mix',
    crops: bed?.crops.map((crop) => crop.slug) ?? [],
    own: (bed?.ownBand ?? null) !== null,
    low: fieldNumber(bed?.ownBand?.low),
    high: fieldNumber(bed?.ownBand?.high),
  }
}

/** The bed in SI units, or what cannot be read; what was not touched keeps its stored value. */
export function bedOf(
  draft: BedDraft,
  units: Units,
  before: BedView | null = null,
): { bed: BedInput; errors: { path: string; message: string }[] } {
  const errors: { path: string; message: string }[] = []
  const untouched = before === null ? null : bedDraft(before, units)
  const number = (text: string, path: string): number => {
    const value = parseNumber(text)
    if (value === null) errors.push({ path, message: notNumber(text) })
    return value ?? 0
  }
  const area = toStored('area', number(draft.area, 'areaM2'), units)
  const depth = toStored('depth', number(draft.depth, 'depthM'), units)
  const bed: BedInput = {
    name: draft.name,
    areaM2: before !== null && draft.area === untouched?.area ? before.areaM2 : area,
    depthM: before !== null && draft.depth === untouched?.depth ? before.depthM : depth,
    // The list comes from the hub, and the hub refuses what is not in it.
    texture: draft.texture as BedInput['texture'],
    crops: [...draft.crops],
    ownBand: draft.own
      ? { low: number(draft.low, 'ownBand.low'), high: number(draft.high, 'ownBand.high') }
      : null,
  }
  return { bed, errors }
}

/** What several crops have in common: the intersection of their bands; null when there is none. */
export function commonBand(
  bands: readonly { readonly low: number; readonly high: number }[],
): { low: number; high: number } | null {
  if (bands.length === 0) return null
  const low = Math.max(...bands.map((band) => band.low))
  const high = Math.min(...bands.map((band) => band.high))
  return low < high ? { low, high } : null
}
