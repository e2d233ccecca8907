import { useId, useState } from 'preact/hooks'
import type { KeyView, MadeKey } from '../../../../hub/api/schemas/account.ts'
import { api } from '../../api.ts'
import { useHub, useLoad } from '../../hub-context.tsx'
import { errorFor } from '../../problem.ts'
import { said, say, toSay } from '../../say.ts'
import { Field, FormProblem, useSend } from '../field.tsx'
import { Form } from '../form.tsx'
import { endOf, Keys } from './keys.tsx'
import { ShownOnce } from './shown-once.tsx'

type Scope = KeyView['scopes'][number]
const SCOPE_WORDS: Readonly<Record<Scope, string>> = {
  read: toSay('look at the garden'),
  enter: toSay('write in the journal and enter measurements'),
  change: toSay(
    'change beds, probes, plans, alarms and settings, import readings, restart probes and make their passwords',
  ),
  own: toSay(
    'manage people, sessions, tokens, shared beds, secret addresses and routes for messages, make backups, settle damaged readings, thin out old readings for good',
  ),
}
const SCOPES = Object.keys(SCOPE_WORDS) as Scope[]

function MakeToken({
  onMade,
  onCancel,
}: {
  onMade: (made: MadeKey) => void
  onCancel: () => void
}) {
  const { garden } = useHub()
  const id = useId()
  const [name, setName] = useState('')
  const [scopes, setScopes] = useState<readonly Scope[]>(['read'])
  const [ends, setEnds] = useState('')
  const { problem, busy, send } = useSend()
  return (
    <Form
      label={say`Make a token`}
      busy={busy}
      submit={say`Make a token`}
      onCancel={onCancel}
      onSubmit={() =>
        send(async () => {
          const endsAt = endOf(ends, garden.zone)
          onMade(await api.makeToken({ name, scopes: [...scopes], endsAt }))
        })
      }
    >
      <FormProblem problem={problem} fields={['name', 'scopes', 'endsAt']} />
      <div class="fields">
        <Field
          label={say`What it is for`}
          value={name}
          onInput={setName}
          error={errorFor(problem, 'name')}
        />
        <Field
          label={say`Last day`}
          type="date"
          value={ends}
          onInput={setEnds}
          hint={say`empty: until it is taken back`}
          error={errorFor(problem, 'endsAt')}
        />
        <fieldset
          class="ticks"
          aria-describedby={errorFor(problem, 'scopes') ? `${id}-e` : undefined}
        >
          <legend>{say`It may`}</legend>
          {SCOPES.map((scope) => (
            <label key={scope}>
              <input
                type="checkbox"
                checked={scopes.includes(scope)}
                onChange={() =>
                  setScopes((old) =>
                    old.includes(scope) ? old.filter((one) => one !== scope) : [...old, scope],
                  )
                }
              />{' '}
              {said(SCOPE_WORDS[scope])}
            </label>
          ))}
          {errorFor(problem, 'scopes') && (
            <small id={`${id}-e`} class="error">
              {errorFor(problem, 'scopes')}
            </small>
          )}
        </fieldset>
      </div>
    </Form>
  )
}

/** Tokens of programs. */
export function Tokens() {
  const tokens = useLoad('tokens', (signal) => api.keys('tokens', signal))
  const [making, setMaking] = useState(false)
  const [made, setMade] = useState<MadeKey | null>(null)
  return (
    <section class="sheet" aria-labelledby="tokens">
      <h2 id="tokens">{say`Tokens of programs`}</h2>
      <p class="sentence">
        {say`A program sends its token with every request, as`} <code>Authorization: Bearer …</code>
      </p>
      <Keys
        kind="tokens"
        keys={tokens.data ?? []}
        about={(key) =>
          say`May: ${key.scopes.map((scope) => said(SCOPE_WORDS[scope])).join('; ')}.`
        }
        onChange={tokens.reload}
      />
      {made !== null && (
        <div class="made" role="status">
          <p>{say`This is the token. It is shown this once; the hub keeps only what it is checked with.`}</p>
          <ShownOnce label={made.key.name} text={made.secret} />
        </div>
      )}
      {making ? (
        <MakeToken
          onCancel={() => setMaking(false)}
          onMade={(key) => {
            setMade(key)
            setMaking(false)
            tokens.reload()
          }}
        />
      ) : (
        <p class="buttons">
          <button type="button" onClick={() => setMaking(true)}>{say`Make a token`}</button>
        </p>
      )}
    </section>
  )
}
