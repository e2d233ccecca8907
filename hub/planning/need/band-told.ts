import { cropBySlug } from '../../agronomy/crops.ts'
import type { BandView } from '../../analysis/assessment.ts'
import { bandText, ph1 } from '../../analysis/format.ts'
import type { BedFacts } from '../bed-facts.ts'
import { tell, type Told } from '../told.ts'
import { say } from '../../words/say.ts'

/** Published edges further apart than this are worth a word, pH. */
const NOTABLE_PH = 0.5

/** What is to be said of the band itself: that there is none, that crops cannot share, that sources differ. */
export function bandTold(
  { bed }: BedFacts,
  view: BandView,
  target: number | null,
): readonly Told[] {
  if (view.band === null) {
    return [
      tell(
        'ask',
        view.sentence,
        view.status === 'empty'
          ? say`Where bands do not overlap, any pH is wrong for one of the crops.`
          : say`Without a band nobody can say which way is right.`,
        ['MEM'],
        { settle: 'bed form' },
      ),
    ]
  }
  const told: Told[] = []
  if (target !== null && (target < view.band.low || target > view.band.high)) {
    told.push(
      tell(
        'ask',
        say`pH ${ph1(target)} lies outside the band ${bandText(view.band)} of ${bed.name}: choose an aim inside it, or set a band of your own.`,
        say`An aim outside the band would lead the crops away from where they do well.`,
        ['MEM'],
        { settle: 'bed form' },
      ),
    )
  }
  const crops = view.status === 'own' ? [] : Array.from(new Set(bed.crops))
  for (const slug of crops) {
    const crop = cropBySlug(slug)
    if (crop === undefined || (crop.disagreement ?? 0) <= NOTABLE_PH) continue
    const own = crop.published.filter(({ group }) => !group)
    told.push(
      tell(
        'tell',
        say`Publications on ${crop.name} differ by up to ${ph1(crop.disagreement!)} pH on one edge; the working band ${bandText(crop.band)} is used, what each says stands beside it.`,
        say`A band is a judgement, not a measured limit: its edge is no reason to hurry.`,
        Array.from(new Set(own.map(({ source }) => source.id))),
      ),
    )
  }
  return told
}
