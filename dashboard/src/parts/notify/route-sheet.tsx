import { useState } from 'preact/hooks'
import type { MessageView, RouteView, TestResultView } from '../../../../hub/api/schemas/message.ts'
import { api } from '../../api.ts'
import { useHub, useNow } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { FormProblem, useSend } from '../field.tsx'
import { Confirm } from '../form.tsx'
import { RouteForm } from './route-form.tsx'
import { messageWords, routeSentences, stateWords, testWords, whereWords } from './route-words.ts'

const DAY_MS = 86_400_000

/** One route in words, what it has trouble with, and what can be done with it. */
export function RouteSheet({
  route,
  routes,
  stuck,
  onChange,
}: {
  route: RouteView
  routes: readonly RouteView[]
  /** The message that could not be sent and holds up the others. */
  stuck: MessageView | undefined
  onChange: () => void
}) {
  const { beds, garden } = useHub()
  const now = useNow()
  const [changing, setChanging] = useState(false)
  const [result, setResult] = useState<TestResultView | null>(null)
  const { problem, busy, send } = useSend()
  const names = new Map(beds.map(({ id, name }) => [id, name]))
  const state = stateWords(route, now, garden)
  const paused = route.pausedUntil !== null && route.pausedUntil > now
  const doing = (work: () => Promise<unknown>) => (): void =>
    send(async () => {
      await work()
      onChange()
    })
  return (
    <section class="sheet" aria-labelledby={`route-${route.id}`} data-route={route.id}>
      <div class="section-head">
        <h2 id={`route-${route.id}`}>{route.name}</h2>
        {state !== '' && <p class="faint">{state}</p>}
      </div>
      <p class="sentence">{whereWords(route)}</p>
      {changing ? (
        <RouteForm
          route={route}
          routes={routes}
          onDone={() => {
            setChanging(false)
            onChange()
          }}
        />
      ) : (
        <>
          <ul class="route-words">
            {routeSentences(route, routes, names).map((sentence) => (
              <li key={sentence}>{sentence}</li>
            ))}
          </ul>
          {stuck !== undefined && (
            <p class="sentence error" role="status">
              {messageWords(stuck, garden)}{' '}
              <button type="button" onClick={doing(() => api.retryMessageRoute(route.id))}>
                {say`Try now`}
              </button>
            </p>
          )}
          <FormProblem problem={problem} fields={[]} />
          <p class="buttons" aria-busy={busy}>
            <button
              type="button"
              onClick={() =>
                send(async () => {
                  setResult(null)
                  setResult(await api.testMessageRoute(route.id))
                })
              }
            >
              {say`Send a test message`}
            </button>
            {route.on && (
              <button
                type="button"
                onClick={doing(() =>
                  api.pauseMessageRoute(route.id, paused ? null : Math.round(now) + DAY_MS),
                )}
              >
                {paused ? say`End the pause` : say`Pause for a day`}
              </button>
            )}
            <button type="button" onClick={() => setChanging(true)}>
              {say`Change`}
            </button>
            <Confirm
              words={say`Remove`}
              ask={say`What it has not sent yet is not sent. Remove it?`}
              onYes={doing(() => api.removeMessageRoute(route.id))}
            />
          </p>
          <p role="status" class="sentence" data-test-result>
            {busy ? say`Asking the other side …` : result === null ? '' : testWords(result)}
          </p>
        </>
      )}
    </section>
  )
}
