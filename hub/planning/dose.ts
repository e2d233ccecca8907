import { amendmentBySlug } from '../agronomy/amendments.ts'
import type { Dosing } from '../agronomy/dosing.ts'
import { ph1 } from '../analysis/format.ts'
import type { Range } from '../model/plan.ts'
import { sizeText } from './amount-words.ts'
import type { BedFacts } from './bed-facts.ts'
import type { Buffering } from './buffering.ts'
import { capsOn } from './limits.ts'
import type { MaterialOption } from './options.ts'
import type { Need } from './need.ts'
import {
  areaText,
  depthText,
  groundMass,
  groundPortion,
  groundRange,
  massRange,
  massText,
  onGround,
  portionText,
  weighed,
} from '../words/amount.ts'
import { fixed } from '../words/figure.ts'
import { say } from '../words/say.ts'

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
      : `, ${say`less ${sizeText(need.coming.value)} that is still to come`}`
  return {
    gM2,
    bedG,
    steps: [
      say`From pH ${ph1(need.from)} to ${ph1(need.target)}${coming}: ${sizeText(change)}.`,
      say`One pH of this bed is ${groundMass(gM2PerPh.typical)} of pure lime ${onGround()} (${groundRange(gM2PerPh)}) over ${depthText(bed.depthM)}: ${groundMass(change * gM2PerPh.typical)}.`,
      strength === null
        ? say`1 ${weighed()} of ${name} is worth ${fixed(acts.typical, 2)} ${weighed()} of pure lime (${fixed(acts.low, 2)} to ${fixed(acts.high, 2)}; the label says): ${groundMass(gM2.typical)} ${onGround()} (${groundRange(gM2)}).`
        : say`1 ${weighed()} of ${name} is worth ${fixed(acts.typical, 2)} ${weighed()} of pure lime by its label: ${groundMass(gM2.typical)} ${onGround()} (${groundRange(gM2)}).`,
      facts.soil.planting === 'standing'
        ? say`On ${areaText(bed.areaM2)}: ${massText(bedG.typical)} (${massRange(bedG)}), for ${depthText(bed.depthM)} of soil, of which it reaches the top first. It goes on in portions, the first from the low half.`
        : say`On ${areaText(bed.areaM2)}: ${massText(bedG.typical)} (${massRange(bedG)}), worked in ${depthText(bed.depthM)} deep. It goes on in portions, the first from the low half.`,
      ...capsOn(facts, dosing, facts.at)
        .filter((cap) => cap.gM2 < gM2.typical)
        .map((cap) =>
          cap.per === 'year'
            ? say`Never more than ${groundPortion(cap.gM2)} ${onGround()} in a year: ${portionText(cap.gM2 * bed.areaM2)} on this bed.`
            : say`Never more than ${groundPortion(cap.gM2)} ${onGround()} at once: ${portionText(cap.gM2 * bed.areaM2)} on this bed.`,
        ),
    ],
  }
}
