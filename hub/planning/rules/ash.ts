import { ACID_LOVING_MOST_PH, ASH_BELOW_PH, ASH_YEAR_G_M2 } from '../../agronomy/planning-limits.ts'
import { cropBySlug } from '../../agronomy/crops.ts'
import { ph1 } from '../../analysis/format.ts'
import { tell, type Told } from '../told.ts'
import type { Rule } from './rule.ts'
import { listed } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** Wood ash: not near neutral, not for what loves acid soil, not for potatoes, not on seed, only so much a year. */
export const ash: Rule = ({ facts: { bed }, need, row }) => {
  if (row.slug !== 'wood-ash') return []
  const told: Told[] = []
  const highest = Math.max(need.ph?.value ?? -Infinity, need.confirmation?.ph ?? -Infinity)
  if (highest >= ASH_BELOW_PH.value) {
    told.push(
      tell(
        'refuse',
        say`No wood ash on ${bed.name}: it is at pH ${ph1(highest)}, and ash goes on below ${ph1(ASH_BELOW_PH.value)} only.`,
        say`Ash is lye: it burns and overshoots.`,
        [ASH_BELOW_PH.source, 'ASH_ASK'],
      ),
    )
  }
  const crops = bed.crops.flatMap((slug) => cropBySlug(slug) ?? [])
  const shy = crops.filter((c) => c.band.high <= ACID_LOVING_MOST_PH.value || c.slug === 'potato')
  const acidBand = (bed.ownBand?.high ?? Infinity) <= ACID_LOVING_MOST_PH.value
  if (shy.length > 0 || acidBand) {
    told.push(
      tell(
        'refuse',
        shy.length > 0
          ? shy.length === 1
            ? say`No wood ash on ${bed.name}: ${listed(shy.map(({ name }) => name))} does not bear it.`
            : say`No wood ash on ${bed.name}: ${listed(shy.map(({ name }) => name))} do not bear it.`
          : say`No wood ash on ${bed.name}: its band is one for plants that love acid soil.`,
        say`What loves acid soil suffers from ash, and potatoes get scab.`,
        [ASH_BELOW_PH.source],
      ),
    )
  }
  told.push(
    tell(
      'warn',
      say`Not at sowing, on seedlings or on leaves: put it on weeks before, and work it in.`,
      say`Its salt and boron hurt what germinates.`,
      [ASH_YEAR_G_M2.source],
    ),
    tell(
      'warn',
      say`How strong ash is differs tenfold from fire to fire: begin with little.`,
      say`From 8 to 90 % of the same mass of lime were measured.`,
      ['ASH_AGP2'],
    ),
  )
  return told
}
