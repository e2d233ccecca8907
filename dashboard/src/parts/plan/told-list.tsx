import type { ComponentChildren } from 'preact'
import type { ToldView } from '../../../../hub/api/schemas/planning.ts'
import { said, say } from '../../say.ts'
import { TOLD_WORDS } from './plan-words.ts'
import { Sources } from './sources.tsx'

interface ToldListProps {
  readonly told: readonly ToldView[]
  readonly label: string
  /** What can be done about one of them on the spot. */
  readonly action?: (told: ToldView) => ComponentChildren
}

/** What holds for a bed or a material, each with its reason and its sources on demand. */
export function ToldList({ told, label, action }: ToldListProps) {
  if (told.length === 0) return null
  return (
    <ul class="told" aria-label={label}>
      {told.map((one) => (
        <li key={one.sentence} data-effect={one.effect}>
          <span class="told-word">{said(TOLD_WORDS[one.effect])}</span>
          <div>
            <p class="sentence">{one.sentence}</p>
            <details class="why">
              <summary>
                {say`Why`}
                <span class="unseen">: {one.sentence}</span>
              </summary>
              <p>{one.reason}</p>
              <Sources sources={one.sources} />
            </details>
            {action?.(one)}
          </div>
        </li>
      ))}
    </ul>
  )
}
