import type { BedSeries } from '../../../hub/api/schemas/bed.ts'
import { dateTime, whole } from '../format.ts'
import { useHub } from '../hub-context.tsx'
import { say } from '../say.ts'
import { Link } from './link.tsx'

export const NO_DAMAGE: NonNullable<BedSeries['damaged']> = []

/** What the hatched stretches of a chart are. */
export function DamagedNote({ stretches }: { stretches: NonNullable<BedSeries['damaged']> }) {
  const { garden } = useHub()
  if (stretches.length === 0) return null
  const from = dateTime(Math.min(...stretches.map((one) => one.from)), garden)
  const to = dateTime(Math.max(...stretches.map((one) => one.to)), garden)
  const readings = whole(
    stretches.reduce((sum, one) => sum + one.readings, 0),
    garden.units,
  )
  return (
    <p class="faint" data-testid="damaged-note">
      {stretches.length === 1
        ? say`Hatched: from ${from} to ${to} readings are missing (${readings} of that day) that were damaged on the disk.`
        : say`Hatched: between ${from} and ${to} readings are missing (${readings} of those days) that were damaged on the disk.`}{' '}
      {stretches.some(({ gone }) => !gone) && (
        <Link to={{ page: 'settings' }} data-needs="change">{say`What can be done about it`}</Link>
      )}
    </p>
  )
}
