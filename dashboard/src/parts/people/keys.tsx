import type { ComponentChildren } from 'preact'
import type { KeyView } from '../../../../hub/api/schemas/account.ts'
import { api } from '../../api.ts'
import { age, dateOnly } from '../../format.ts'
import { useHub, useNow } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { fromInputTime } from '../../input-time.ts'
import { FormProblem, useSend } from '../field.tsx'
import { Confirm } from '../form.tsx'

/** The end of a day that somebody chose, epoch ms; null for no day. */
export const endOf = (day: string, zone: string): number | null =>
  day === '' ? null : fromInputTime(`${day}T23:59`, zone)

interface Props {
  readonly kind: 'tokens' | 'shares'
  readonly keys: readonly KeyView[]
  readonly about: (key: KeyView) => ComponentChildren
  readonly onChange: () => void
}

/** Keys that were given away, each with the way to take it back. */
export function Keys({ kind, keys, about, onChange }: Props) {
  const { garden } = useHub()
  const now = useNow()
  const { problem, send } = useSend()
  return (
    <>
      <FormProblem problem={problem} fields={[]} />
      {keys.length === 0 && <p class="faint">{say`None.`}</p>}
      <ul class="people">
        {keys.map((key) => (
          <li key={key.id} class="person">
            <h3>{key.name}</h3>
            <p>{about(key)}</p>
            <p class="faint">
              {say`made ${dateOnly(key.madeAt, garden)}`}
              {' · '}
              {key.usedAt === null ? say`not used yet` : say`last used ${age(key.usedAt, now)}`}
              {' · '}
              {key.endsAt === null
                ? say`no end`
                : key.over
                  ? say`ended ${dateOnly(key.endsAt, garden)}`
                  : say`ends ${dateOnly(key.endsAt, garden)}`}
            </p>
            <Confirm
              words={say`Take back`}
              ask={say`Whoever uses ‘${key.name}’ is not let in any more. Take it back?`}
              onYes={() =>
                send(async () => {
                  await api.removeKey(kind, key.id)
                  onChange()
                })
              }
            />
          </li>
        ))}
      </ul>
    </>
  )
}
