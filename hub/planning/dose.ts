import { amendmentBySlug } from '../agronomy/amendments.ts'
import type { Dosing } from '../agronomy/dosing.ts'
import { ph1 } from '../analysis/format.ts'
import type { Range } from '../model/plan.ts'
import { gramsText, rangeText, sizeText } from './amount-words.ts'
import type { BedFacts } from './bed-facts.ts'
import type { Buffering } from './buffering.ts'
import { capsOn } from './limits.ts'
import type { MaterialOption } from './options.ts'
import type { Need } from './need.ts'

/**
 * Product for the whole way: change times buffering over strength. Least where the soil holds its pH least and the
 * product is strongest, largest the other way round.
 *
 * @param strength g of calcium carbonate per g from the label; null: as usual, with that doubt. @default null
 */
export function doseOf(
  facts: BedFacts,
  need: Need,
  buffering: Buffering,
  dosing: Dosing,
  strength: number | null = null,
): MaterialOption['dose'] {
  const { bed } = facts
  const change = Math.abs(need.change)
  if (!(change > 0) || need.from === null || need.target === null) return null
  const acts: Range =
    strength === null ? dosing.acts : { low: strength, typical: strength, high: strength }
  const { gM2PerPh } = buffering
  const gM2 = {
    low: (change * gM2PerPh.low) / acts.high,
    typical: (change * gM2PerPh.typical) / acts.typical,
    high: (change * gM2PerPh.high) / acts.low,
  }
  const bedG = {
    low: gM2.low * bed.areaM2,
    typical: gM2.typical * bed.areaM2,
    high: gM2.high * bed.areaM2,
  }
  const { name } = amendmentBySlug(dosing.slug)
  const coming =
    need.coming === null || need.coming.value === 0
      ? ''
      : `, less ${sizeText(need.coming.value)} that is still to come`
  return {
    gM2,
    bedG,
    steps: [
      `From pH ${ph1(need.from)} to ${ph1(need.target)}${coming}: ${sizeText(change)}.`,
      `One pH of this bed is ${gramsText(gM2PerPh.typical)} of pure lime a square metre (${rangeText(gM2PerPh)}) over ${Math.round(bed.depthM * 100)} cm: ${gramsText(change * gM2PerPh.typical)}.`,
      `1 g of ${name} is worth ${acts.typical.toFixed(2)} g of pure lime${strength === null ? ` (${acts.low.toFixed(2)} to ${acts.high.toFixed(2)}; the label says)` : ' by its label'}: ${gramsText(gM2.typical)} a square metre (${rangeText(gM2)}).`,
      `On ${Math.round(bed.areaM2 * 100) / 100} m2: ${gramsText(bedG.typical)} (${rangeText(bedG)}), ${facts.soil.planting === 'standing' ? `for ${Math.round(bed.depthM * 100)} cm of soil, of which it reaches the top first` : `worked in ${Math.round(bed.depthM * 100)} cm deep`}. It goes on in portions, the first from the low half.`,
      ...capsOn(facts, dosing, facts.at)
        .filter((cap) => cap.gM2 < gM2.typical)
        .map(
          (cap) =>
            `Never more than ${gramsText(cap.gM2)} a square metre ${cap.per === 'year' ? 'in a year' : 'at once'}: ${gramsText(cap.gM2 * bed.areaM2)} on this bed.`,
        ),
    ],
  }
}
