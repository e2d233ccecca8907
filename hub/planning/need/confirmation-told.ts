import { CONFIRM_DAYS, SAMPLE_APART_PH } from '../../agronomy/planning-limits.ts'
import { bandText, ph1 } from '../../analysis/format.ts'
import type { PhBand } from '../../model/bed.ts'
import { isWaterScale } from '../../model/journal.ts'
import { sizeText } from '../amount-words.ts'
import type { BedFacts } from '../bed-facts.ts'
import type { Need } from '../need.ts'
import { tell, type Told } from '../told.ts'
import { wentOn } from '../went-on.ts'
import { weakSamples } from './confirm-level.ts'
import { dayText } from '../../words/figure.ts'
import { said, say } from '../../words/say.ts'

/** Whether something else than the probes says that the bed lies outside its band. */
export function confirmationTold(
  facts: BedFacts,
  band: PhBand | null,
  verdict: Need['verdict'],
  confirmation: Need['confirmation'],
  /** Where the bed is now by the sample, pH. */
  bySample: number | null,
): readonly Told[] {
  const { bed, zone } = facts
  const moves = verdict === 'raise' || verdict === 'lower'
  if (confirmation === null) {
    if (!moves) return []
    const weak = weakSamples(facts).map(({ method }) => method !== null && isWaterScale(method))
    const words = [
      weak.includes(true) ? ` ${say`A hand meter or a colour kit does not confirm it.`}` : '',
      weak.includes(false)
        ? ` ${say`A sample in calcium chloride does not confirm it: its scale is another.`}`
        : '',
    ].join('')
    return [
      tell(
        'ask',
        say`Before a dose, confirm the pH of ${bed.name}: a laboratory, or soil shaken up with distilled water (1:1 or 1:2), mixed from ten places, not older than ${CONFIRM_DAYS.value} days.${words}`,
        say`Probes in the soil agree among themselves and can still be wrong together; kits match a laboratory in 33 to 94 of 100 cases.`,
        ['FABER2007', 'SCHEBERL2019'],
        { settle: 'sample' },
      ),
    ]
  }
  const { at, ph, method, apart } = confirmation
  const of = say`The sample of ${dayText(at, zone)} (${said(method)}, pH ${ph1(ph)})`
  const told: Told[] = []
  const since = wentOn(facts).findLast((dose) => dose.at >= at)
  if (moves && since !== undefined) {
    told.push(
      tell(
        'ask',
        say`${of} was taken before ${since.row.name} went on ${bed.name} on ${dayText(since.at, zone)}: take a new one.`,
        say`What was measured before a treatment does not tell where the bed is after it.`,
        ['MEM'],
        { settle: 'sample' },
      ),
    )
  }
  if (apart !== null && Math.abs(apart) > SAMPLE_APART_PH.value) {
    told.push(
      tell(
        'ask',
        apart > 0
          ? say`${of} lies ${sizeText(apart)} above the probes of ${bed.name}. Calibrate the probes and take a second sample before anything is put on.`
          : say`${of} lies ${sizeText(apart)} below the probes of ${bed.name}. Calibrate the probes and take a second sample before anything is put on.`,
        say`That is more than two samples of one place differ: one of the two is wrong.`,
        [SAMPLE_APART_PH.source, 'LAB_REPRO'],
        { settle: 'sample' },
      ),
    )
  }
  const outside = (value: number): boolean =>
    band !== null && (verdict === 'raise' ? value < band.low : value > band.high)
  const agrees = outside(ph) && (bySample === null || outside(bySample))
  if (moves && band !== null && !agrees) {
    told.push(
      tell(
        'ask',
        verdict === 'raise'
          ? say`${of} lies not below the band ${bandText(band)} of ${bed.name}: it does not confirm the probes. Take a second one, mixed from ten places.`
          : say`${of} lies not above the band ${bandText(band)} of ${bed.name}: it does not confirm the probes. Take a second one, mixed from ten places.`,
        say`A laboratory sets the level, probes show how it moves.`,
        ['LEITHOLD', 'YANG1994'],
        { settle: 'sample' },
      ),
    )
  }
  if (moves && apart === null) {
    told.push(
      tell(
        'warn',
        say`${of} was taken when the probes of ${bed.name} had no valid day: whether the two agree is not known. Another sample while they run is better.`,
        say`A sample confirms probes by being held against the same days.`,
        ['MEM'],
        { settle: 'sample' },
      ),
    )
  }
  return told
}
