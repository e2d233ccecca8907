import { CARBONATE_PER_SULFUR } from '../../agronomy/planning-limits.ts'
import { PUBLISHED_RATES, RATE_DENSITY, RATE_DEPTH_M, soilRate } from '../../agronomy/soil-rates.ts'
import type { Evidence, EvidenceOf } from './evidence.ts'
import { scaled, widened } from './log-range.ts'
import { soilMass } from './soil-mass.ts'
import { aboutDepth, depthText, groundMass, groundRange, onGround } from '../../words/amount.ts'
import { fixed } from '../../words/figure.ts'
import { said, say } from '../../words/say.ts'

/**
 * Doubt of a table of textures for one soil of that texture, beside its printed spread: standard deviation of the
 * logarithm. Judgement: in fields a pH took 323 (SCOTT2001) to 667 g/m2 (CORBETT2021) of lime where the tables have
 * about 400.
 */
const ONE_SOIL_SD = 0.35

/** Published rates for the texture, scaled to the depth and the density of this bed. */
export const textureEvidence: EvidenceOf = (facts, way): readonly Evidence[] => {
  const { bed } = facts
  const rate = soilRate(bed.texture)
  if (rate === null) return []
  const mass = soilMass(facts)
  const depth = bed.depthM / RATE_DEPTH_M
  const density = mass.density.typical / RATE_DENSITY
  const pure = way === 'raise' ? rate.limestone : rate.sulfur
  const carbonate = way === 'raise' ? 1 : CARBONATE_PER_SULFUR.value
  const gM2PerPh = scaled(pure, carbonate * depth * density)
  const material = way === 'raise' ? say`pure lime` : say`pure sulfur`
  const printed = PUBLISHED_RATES.filter(
    (row) =>
      row.texture === bed.texture && row.material === (way === 'raise' ? 'limestone' : 'sulfur'),
  ).map(({ source }) => source)
  return [
    {
      kind: 'texture',
      gM2PerPh,
      counts: widened(gM2PerPh, ONE_SOIL_SD),
      sentence:
        way === 'raise'
          ? say`Tables of extension services for ${said(bed.texture)}: ${groundMass(pure.typical)} of ${material} ${onGround()} for one pH over ${aboutDepth(RATE_DEPTH_M)} (${groundRange(pure)}); times ${fixed(depth, 2)} for ${depthText(bed.depthM)} and ${fixed(density, 2)} for ${mass.words}. Soils of one texture differ widely.`
          : say`Tables of extension services for ${said(bed.texture)}: ${groundMass(pure.typical)} of ${material} ${onGround()} for one pH over ${aboutDepth(RATE_DEPTH_M)} (${groundRange(pure)}), worth ${fixed(carbonate, 2)} times as much lime; times ${fixed(depth, 2)} for ${depthText(bed.depthM)} and ${fixed(density, 2)} for ${mass.words}. Soils of one texture differ widely.`,
      sources: Array.from(new Set([...printed, pure.source])),
    },
  ]
}
