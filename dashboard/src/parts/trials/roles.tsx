import type { BedView } from '../../../../hub/api/schemas/bed.ts'
import { said, say, toSay } from '../../say.ts'
import type { Role, TrialDraft } from '../../trial-draft.ts'

const ROLES: readonly { readonly role: Role; readonly words: string }[] = [
  { role: 'treated', words: toSay('treated') },
  { role: 'untreated', words: toSay('untreated') },
  { role: 'left out', words: toSay('left out') },
]

interface RolesProps {
  readonly beds: readonly BedView[]
  readonly roles: TrialDraft['roles']
  readonly onRole: (bed: number, role: Role) => void
  readonly error: string | null
}

/** Which bed is treated, which is not, which has no part in it. */
export function Roles({ beds, roles, onRole, error }: RolesProps) {
  return (
    <fieldset class="field wide roles">
      <legend>{say`Beds`}</legend>
      <small class="hint">{say`The untreated ones should be as like the treated as can be: soil, crops, watering, sun.`}</small>
      {error !== null && <small class="error">{error}</small>}
      <ul>
        {beds.map((bed) => (
          <li key={bed.id}>
            <fieldset class="choices">
              <legend>{bed.name}</legend>
              {ROLES.map(({ role, words }) => (
                <label key={role}>
                  <input
                    type="radio"
                    name={`role-${bed.id}`}
                    checked={(roles[bed.id] ?? 'left out') === role}
                    onChange={() => onRole(bed.id, role)}
                  />
                  <span>{said(words)}</span>
                </label>
              ))}
            </fieldset>
          </li>
        ))}
      </ul>
    </fieldset>
  )
}
