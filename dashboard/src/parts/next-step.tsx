import { useHub } from '../hub-context.tsx'
import { say } from '../say.ts'
import { Link } from './link.tsx'

/** Until the first probe sits in a bed: what comes next, on the pages the first steps lead to. */
export function NextStep() {
  const { beds, probes, loaded } = useHub()
  if (!loaded || probes.some((probe) => probe.spotId !== null)) return null
  if (!beds.some((bed) => bed.spots.length > 0)) return null
  const own = probes.find((probe) => probe.adoptedAt !== null)
  return (
    <p class="next-step">
      {own === undefined ? (
        <Link to={{ page: 'garden' }}>{say`Next: the first reading`}</Link>
      ) : (
        <Link to={{ page: 'probe', id: own.id }}>{say`Next: put ${own.name} in its spot`}</Link>
      )}
    </p>
  )
}
