import type { MaterialOptionView } from '../../../../hub/api/schemas/planning.ts'
import { say } from '../../say.ts'

/** The usual cautions of one material, before anything of it is put on; the label comes first. */
export function Cautions({
  name,
  cautions,
}: {
  readonly name: string
  readonly cautions: MaterialOptionView['cautions']
}) {
  return (
    <aside class="caution" aria-label={say`Before you put ${name} on`}>
      <strong>{say`Before you put ${name} on`}</strong>
      <ul>
        {cautions.map(({ text, source }) => (
          <li key={text}>
            {text}
            {source !== null && (
              <>
                {' '}
                <span class="faint">
                  (
                  {source.url === null ? (
                    source.publisher
                  ) : (
                    <a href={source.url}>{source.publisher}</a>
                  )}
                  )
                </span>
              </>
            )}
          </li>
        ))}
        <li>{say`Your local rules come before anything said here.`}</li>
      </ul>
    </aside>
  )
}
