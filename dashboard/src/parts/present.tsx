import type { BedView } from '../../../hub/api/schemas/bed.ts'
import { huePlace } from '../chart/palette.ts'
import { age, num, standingWords } from '../format.ts'
import { useHub, useNow } from '../hub-context.tsx'
import { say } from '../say.ts'

/** A bed's pH now: value, doubt, age, standing. */
export function PresentPh({ bed }: { bed: BedView }) {
  const { garden } = useHub()
  const now = useNow()
  const { ph } = bed
  if (ph.status === 'insufficient') {
    return (
      <div class="present" data-testid="present-ph">
        <p class="figure missing">
          <span class="label">{say`pH`}</span> –
        </p>
        <p class="standing">{say`Not enough yet: ${ph.have}; needed: ${ph.need}.`}</p>
      </div>
    )
  }
  return (
    <div class="present">
      <p class="figure">
        <span class="label">{say`pH`}</span>{' '}
        <span
          class="value"
          data-testid="present-ph"
          style={{ '--hue': String(huePlace(ph.value)) }}
        >
          {num(ph.value, 2, garden.units)}
        </span>{' '}
        <span class="doubt">± {num(ph.halfWidth, 2, garden.units)}</span>
      </p>
      <p class="standing">
        <strong>{standingWords(bed)}</strong> · {age(ph.at, now)}
      </p>
    </div>
  )
}
