import type { Problem } from '../../../../hub/api/schemas/common.ts'
import { useState } from 'preact/hooks'
import { problemOf } from '../../ask.ts'
import { api } from '../../api.ts'
import { errorFor } from '../../problem.ts'
import { saidOptions, say, toSay } from '../../say.ts'
import { Choice, Field } from '../field.tsx'
import { SecretField } from '../people/secret-field.tsx'
import { Check } from './check-list.tsx'
import { pushReadiness, subscribe } from './push.ts'
import type { RouteDraft } from './route-draft.ts'

export interface TargetProps {
  readonly draft: RouteDraft
  readonly set: (change: Partial<RouteDraft>) => void
  readonly problem: Problem | null
  /** A secret is kept: an empty field leaves it. */
  readonly kept: boolean
}

const SECURITIES = [
  { value: 'starttls', words: toSay('encrypted after a greeting (STARTTLS), mostly port 587') },
  { value: 'tls', words: toSay('encrypted from the start (TLS), mostly port 465') },
  { value: 'none', words: toSay('not encrypted, for a server on this machine') },
] as const

function MailFields({ draft, set, problem, kept }: TargetProps) {
  return (
    <>
      <div class="fields">
        <Field
          label={say`To`}
          value={draft.to}
          onInput={(to) => set({ to })}
          hint={say`one address`}
          error={errorFor(problem, 'target.to')}
        />
        <Field
          label={say`Sender`}
          value={draft.from}
          onInput={(from) => set({ from })}
          hint={say`an address your mail server lets you use`}
          error={errorFor(problem, 'target.from')}
        />
        <Field
          label={say`Mail server`}
          value={draft.host}
          onInput={(host) => set({ host })}
          hint={say`the outgoing server (SMTP) of your mail provider`}
          error={errorFor(problem, 'target.host')}
        />
        <Field
          label={say`Port`}
          type="decimal"
          width="short"
          value={draft.port}
          onInput={(port) => set({ port })}
          error={errorFor(problem, 'target.port')}
        />
        <Choice
          label={say`Connection`}
          value={draft.security}
          options={saidOptions(SECURITIES)}
          onChange={(value) => set({ security: value as RouteDraft['security'] })}
          error={errorFor(problem, 'target.security')}
        />
        <Field
          label={say`User name`}
          value={draft.user}
          onInput={(user) => set({ user })}
          hint={say`empty: the server asks for none`}
          error={errorFor(problem, 'target.user')}
        />
        {draft.user.trim() !== '' && (
          <SecretField
            label={say`Password`}
            value={draft.secret}
            onInput={(secret) => set({ secret })}
            autocomplete="new-password"
            hint={
              kept
                ? say`empty: the one that is kept stays. It is never shown again`
                : say`kept by the hub and never shown again`
            }
            error={errorFor(problem, 'target.password')}
          />
        )}
      </div>
      {draft.security !== 'none' && (
        <Check
          words={say`Take the server’s certificate whoever signed it (for a server of your own)`}
          checked={draft.anyCertificate}
          onChange={(anyCertificate) => set({ anyCertificate })}
        />
      )}
    </>
  )
}

function WebhookFields({ draft, set, problem, kept }: TargetProps) {
  return (
    <>
      <p class="hint">
        {say`A POST of an event as CloudEvents 1.0 describes it, as JSON. A key signs it, so that the other side can tell that it came from this hub.`}
      </p>
      <div class="fields">
        <Field
          label={say`Address`}
          width="full"
          value={draft.url}
          onInput={(url) => set({ url })}
          hint={say`begins with https://`}
          error={errorFor(problem, 'target.url')}
        />
        <SecretField
          label={say`Key to sign with`}
          value={draft.secret}
          onInput={(secret) => set({ secret })}
          autocomplete="new-password"
          hint={
            kept
              ? say`empty: the one that is kept stays. It is never shown again`
              : say`16 characters or more; empty: not signed`
          }
          error={errorFor(problem, 'target.key')}
        />
      </div>
      <Check
        words={say`The address may lie in your own network or on the hub’s machine`}
        checked={draft.privateAllowed}
        onChange={(privateAllowed) => set({ privateAllowed })}
      />
    </>
  )
}

function PushFields({ draft, set, problem }: TargetProps) {
  const [failed, setFailed] = useState<string | null>(null)
  const ask = async (): Promise<void> => {
    setFailed(null)
    try {
      const { publicKey } = await api.pushKey()
      const subscription = await subscribe(publicKey)
      set({ subscription, service: new URL(subscription.endpoint).host })
    } catch (error) {
      if (error instanceof DOMException) setFailed(error.message)
      else setFailed(problemOf(error)?.title ?? '')
    }
  }
  const readiness = pushReadiness()
  if (readiness !== 'ready') {
    return (
      <p class="sentence">
        {readiness === 'not secure' &&
          say`Browsers take messages only from pages with HTTPS, or of the machine itself. Open the hub that way first.`}
        {readiness === 'none' && say`This browser takes no messages while its pages are closed.`}
        {readiness === 'denied' &&
          say`You have told this browser not to show messages of this page; it can be changed in its settings.`}
      </p>
    )
  }
  return (
    <>
      <p class="sentence">
        {say`Messages come to this browser, also while no page of the hub is open. They travel, encrypted, over a service of the browser’s maker.`}
      </p>
      <p class="buttons">
        <button type="button" onClick={() => void ask()}>
          {say`Let this browser take messages`}
        </button>
      </p>
      <p role="status">
        {draft.service !== '' && say`This browser takes messages by ${draft.service}.`}
      </p>
      {failed !== null && (
        <p class="error" role="alert">
          {say`The browser could not do that: ${failed}`}
        </p>
      )}
      {errorFor(problem, 'target.subscription') !== null && (
        <p class="error">{errorFor(problem, 'target.subscription')}</p>
      )}
    </>
  )
}

function MqttFields({ draft, set }: TargetProps) {
  return (
    <>
      <p class="hint">
        {say`JSON at the hub’s broker, on a topic of this route. What stands retained at lm1/hub/alerts is not touched by it.`}
      </p>
      <Check
        words={say`The newest message stays at the broker for who comes later`}
        checked={draft.retain}
        onChange={(retain) => set({ retain })}
      />
    </>
  )
}

/** Where messages go. */
export function TargetFields(props: TargetProps) {
  switch (props.draft.way) {
    case 'e-mail':
      return <MailFields {...props} />
    case 'webhook':
      return <WebhookFields {...props} />
    case 'push':
      return <PushFields {...props} />
    case 'mqtt':
      return <MqttFields {...props} />
  }
}
