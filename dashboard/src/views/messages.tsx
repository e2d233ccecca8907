import { useState } from 'preact/hooks'
import { api, files } from '../api.ts'
import { useHub, useLoad } from '../hub-context.tsx'
import { Link } from '../parts/link.tsx'
import { MessageList } from '../parts/notify/message-list.tsx'
import { RouteForm } from '../parts/notify/route-form.tsx'
import { RouteSheet } from '../parts/notify/route-sheet.tsx'
import '../parts/notify/notify.css'
import { say } from '../say.ts'

const SHOWN = 50

function Feeds() {
  return (
    <section class="sheet" aria-labelledby="feeds">
      <h2 id="feeds">{say`Feeds`}</h2>
      <p class="sentence">
        {say`Alarms can also be read in a feed reader, what is planned in a calendar. Once the hub has an owner such a program needs the secret address.`}
      </p>
      <ul class="route-words">
        <li>
          <a href={files.alarmFeed}>{say`Alarms as an Atom feed`}</a>
        </li>
        <li>
          <a href={files.calendar}>{say`What is planned, as a calendar`}</a>
        </li>
        <li>
          <Link to={{ page: 'people' }}>{say`The secret address for both`}</Link>
        </li>
      </ul>
    </section>
  )
}

/** By what ways alarms reach the gardener, and how each message got on. */
export function MessagesView() {
  const { loaded, messageTick, connection } = useHub()
  const [adding, setAdding] = useState(false)
  const tick = `${messageTick} ${connection}`
  const routes = useLoad(loaded ? 'routes' : null, api.messageRoutes, tick)
  const messages = useLoad(
    loaded ? 'messages' : null,
    (signal) => api.messages(SHOWN, signal),
    tick,
  )
  const reload = (): void => {
    routes.reload()
    messages.reload()
  }
  const problem = routes.problem ?? messages.problem
  return (
    <>
      <div class="page-head">
        <h1>{say`Messages`}</h1>
        <p class="links">
          <Link to={{ page: 'settings' }}>{say`Settings`}</Link>
        </p>
      </div>
      <p class="sentence">
        {say`How alarms reach you while nobody looks at these pages. Each route tells what it is meant to tell, until it has arrived.`}
      </p>
      {problem !== null && (
        <p class="error" role="alert">
          {problem.detail ?? problem.title}{' '}
          <button type="button" onClick={reload}>{say`Fetch again`}</button>
        </p>
      )}
      {routes.data === null ? (
        problem === null && <p class="quiet-line">{say`Opening …`}</p>
      ) : (
        <>
          {routes.data.map((route) => (
            <RouteSheet
              key={route.id}
              route={route}
              routes={routes.data ?? []}
              stuck={messages.data?.find(
                ({ routeId, state }) => routeId === route.id && state === 'failed',
              )}
              onChange={reload}
            />
          ))}
          {routes.data.length === 0 && !adding && (
            <p class="sentence">{say`There is no route yet: alarms stand on these pages and at the broker only.`}</p>
          )}
          {adding ? (
            <section class="sheet" aria-labelledby="new-route">
              <h2 id="new-route">{say`New route`}</h2>
              <RouteForm
                route={null}
                routes={routes.data}
                onDone={() => {
                  setAdding(false)
                  reload()
                }}
              />
            </section>
          ) : (
            <p class="buttons">
              <button type="button" class="main" onClick={() => setAdding(true)}>
                {say`Add a route`}
              </button>
            </p>
          )}
          <MessageList messages={messages.data ?? []} routes={routes.data} />
          <Feeds />
        </>
      )}
    </>
  )
}
