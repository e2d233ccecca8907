import { say } from '../../say.ts'
import { curlLine, type Asking } from './operations.ts'

/** One thing that can be asked: what it takes, what it answers, and a line to try it with. */
export function OperationEntry({ asking, origin }: { asking: Asking; origin: string }) {
  const { method, path, operation } = asking
  const parameters = operation.parameters ?? []
  const [example] = Object.values(operation.responses).flatMap(({ content }) => {
    const json = content?.['application/json']?.example
    return json === undefined ? [] : [json]
  })
  return (
    <details class="past asking" id={asking.id}>
      <summary>
        <span class="asking-address" translate={false}>
          <b>{method}</b> {path}
        </span>{' '}
        <span class="asking-what" lang="en">
          {operation.summary}
        </span>
      </summary>
      <p class="sentence" lang="en">
        {operation.description}
      </p>
      <pre class="command">
        <code translate={false}>{curlLine(asking, origin)}</code>
      </pre>
      {parameters.length > 0 && (
        <>
          <h4>{say`What it takes`}</h4>
          <dl class="facts">
            {parameters.map(({ name, in: place, required, description }) => (
              <div key={`${place} ${name}`} class="asking-row">
                <dt>
                  <span class="id" translate={false}>
                    {name}
                  </span>
                </dt>
                <dd>
                  <span lang="en">{description}</span>
                  {required === true ? ` · ${say`has to be given`}` : ''}
                </dd>
              </div>
            ))}
          </dl>
        </>
      )}
      <h4>{say`What it answers`}</h4>
      <dl class="facts">
        {Object.entries(operation.responses).map(([status, { description, content }]) => (
          <div key={status} class="asking-row">
            <dt>
              <span class="id">{status === 'default' ? say`other` : status}</span>
            </dt>
            <dd>
              <span lang="en">{description}</span>
              {content === undefined ? '' : <> · </>}
              <span class="id" translate={false}>
                {Object.keys(content ?? {}).join(', ')}
              </span>
            </dd>
          </div>
        ))}
      </dl>
      {example !== undefined && (
        <>
          <h4>{say`An example, from an invented garden`}</h4>
          <pre class="command">
            <code translate={false}>{JSON.stringify(example, null, 2)}</code>
          </pre>
        </>
      )}
    </details>
  )
}
