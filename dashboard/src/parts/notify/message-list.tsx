import type { MessageView, RouteView } from '../../../../hub/api/schemas/message.ts'
import { dateTime } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { said, say } from '../../say.ts'
import { HELD_WORDS, messageWords } from './route-words.ts'

/** The last messages, with how each got on. */
export function MessageList({
  messages,
  routes,
}: {
  messages: readonly MessageView[]
  routes: readonly RouteView[]
}) {
  const { garden } = useHub()
  const nameOf = (id: number): string => routes.find((route) => route.id === id)?.name ?? ''
  return (
    <section class="sheet" aria-labelledby="messages">
      <h2 id="messages">{say`The last messages`}</h2>
      {messages.length === 0 ? (
        <p class="faint">{say`None yet.`}</p>
      ) : (
        <ul class="message-list">
          {messages.map((message) => (
            <li key={message.id} data-message={message.state}>
              <p>
                <strong>{message.title}</strong>
                {message.held !== null && (
                  <span class="faint"> · {said(HELD_WORDS[message.held])}</span>
                )}
              </p>
              <p class="faint">
                {say`${nameOf(message.routeId)}, written ${dateTime(message.madeAt, garden)}`}
              </p>
              <p class={message.state === 'given-up' ? 'error' : ''}>
                {messageWords(message, garden)}
              </p>
              {message.state === 'sent' && message.answer !== null && (
                <p class="faint answer">{say`Answer: ${message.answer}`}</p>
              )}
              {message.maybeSent && message.state !== 'sent' && (
                <p class="faint">
                  {say`Nobody knows whether an earlier try arrived: the next one says that it may be a repeat.`}
                </p>
              )}
            </li>
          ))}
        </ul>
      )}
    </section>
  )
}
