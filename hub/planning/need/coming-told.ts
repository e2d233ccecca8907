import { bandText, ph1 } from '../../analysis/format.ts'
import type { PhBand } from '../../model/bed.ts'
import { changeText, sizeText } from '../amount-words.ts'
import type { BedFacts } from '../bed-facts.ts'
import { capital } from '../capital.ts'
import type { Coming } from '../coming.ts'
import { tell, type Told } from '../told.ts'
import type { LevelNow } from './level-now.ts'
import { listed } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** Less than this is as good as nothing, pH. */
const NOTHING_PH = 0.03

/** What is on its way already may be too much. */
export function comingTold(
  { bed }: BedFacts,
  level: LevelNow | null,
  band: PhBand | null,
  coming: Coming | null,
): readonly Told[] {
  if (level === null || band === null || coming === null) return []
  const later = level.value + coming.value
  const past = coming.value > 0 ? later - band.high : band.low - later
  if (past <= 0 || Math.abs(coming.value) < NOTHING_PH) return []
  return [
    tell(
      'warn',
      say`What went on ${bed.name} earlier is expected to bring it to ${whereText(later)}, outside its band ${bandText(band)}: put on nothing more, and nothing against it before the change has come and was measured.`,
      say`An overshoot takes years to undo; fighting one with its opposite leaves salt.`,
      ['ERA_PG'],
    ),
  ]
}

/** Lime of its own stops near 8.3, the pH of calcium carbonate in water under air; acid is held up as well. Textbooks. */
function whereText(ph: number): string {
  if (ph > 8.3) return say`above pH 8`
  return ph < 3.5 ? say`below pH 4` : say`about pH ${ph1(ph)}`
}

/** What earlier treatments are still expected to do, in a sentence of its own; empty when nothing is at work. */
export function comingText(coming: Coming | null): string {
  if (coming === null) return ''
  const { low, value, high, from } = coming
  const names = capital(listed(Array.from(new Set(from.map(({ row }) => row.name)))))
  return Math.abs(value) < NOTHING_PH
    ? say`${names} put on earlier may still move it by up to ${sizeText(Math.max(-low, high))}.`
    : say`${names} put on earlier is expected to move it by another ${changeText(value)} (${changeText(low)} to ${changeText(high)}).`
}
