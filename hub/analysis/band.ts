import { type Crop, cropBySlug } from '../agronomy/crops.ts'
import type { Bed } from '../model/bed.ts'
import type { BandView } from './assessment.ts'
import { bandText } from './format.ts'
import { listed } from '../words/figure.ts'
import { say } from '../words/say.ts'

/**
 * The pH band a bed is held against: the gardener's own, else what all its crops can share. Crops the table
 * does not know are named and left out.
 */
export function bandFor(bed: Bed): BandView {
  if (bed.ownBand !== null) {
    return {
      status: 'own',
      band: bed.ownBand,
      sentence: say`Your own band, ${bandText(bed.ownBand)}. It goes before what the crops would want.`,
    }
  }
  const slugs = Array.from(new Set(bed.crops))
  const crops = slugs.flatMap((slug) => cropBySlug(slug) ?? [])
  const unknown = slugs.filter((slug) => cropBySlug(slug) === undefined)
  const strangers =
    unknown.length === 0 ? '' : ` ${say`Not in the crop table and left out: ${listed(unknown)}.`}`
  const [first, ...others] = crops
  if (first === undefined) {
    return {
      status: 'none',
      band: null,
      sentence: say`No band yet: choose what grows here, or set a band of your own.${strangers}`,
    }
  }
  if (others.length === 0) {
    return {
      status: 'crops',
      band: first.band,
      sentence: `${first.name}, ${bandText(first.band)}. ${first.basis}${strangers}`,
    }
  }
  const low = Math.max(...crops.map(({ band }) => band.low))
  const high = Math.min(...crops.map(({ band }) => band.high))
  if (low < high) {
    const each = crops.map(({ name, band }) => `${name} ${bandText(band)}`)
    return {
      status: 'crops',
      band: { low, high },
      sentence: say`What ${listed(crops.map(({ name }) => name))} can share, ${bandText({ low, high })} (${each.join('; ')}). Working bands judged from published figures.${strangers}`,
    }
  }
  return {
    status: 'empty',
    band: null,
    sentence: say`${conflicts(crops)} Move one of them, or set a band of your own.${strangers}`,
  }
}

/** Which crops cannot share, pair by pair. */
function conflicts(crops: readonly Crop[]): string {
  const pairs: string[] = []
  for (const [i, a] of crops.entries()) {
    for (const b of crops.slice(i + 1)) {
      if (a.band.low < b.band.high && b.band.low < a.band.high) continue
      pairs.push(say`${a.name} (${bandText(a.band)}) and ${b.name} (${bandText(b.band)})`)
    }
  }
  return say`These cannot share a bed, their pH bands do not overlap: ${pairs.join('; ')}.`
}
