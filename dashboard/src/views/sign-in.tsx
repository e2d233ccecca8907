import { useEffect, useState } from 'preact/hooks'
import type { WhoView } from '../../../hub/api/schemas/account.ts'
import { api } from '../api.ts'
import { useLoad } from '../hub-context.tsx'
import { Field, FormProblem, useSend } from '../parts/field.tsx'
import { Form } from '../parts/form.tsx'
import { NameField, SecretField } from '../parts/people/secret-field.tsx'
import { errorFor } from '../problem.ts'
import { language, say, speak } from '../say.ts'
import { ownPage } from '../who.ts'

/** Loads the page anew: whatever was kept of somebody else is gone. */
const goOn = (to: string | undefined): void => location.assign(ownPage(to))

function SignInForm({ to }: { to: string | undefined }) {
  const [name, setName] = useState('')
  const [password, setPassword] = useState('')
  const { problem, busy, send } = useSend()
  return (
    <>
      <h1>{say`Sign in`}</h1>
      <Form
        needs="nothing"
        label={say`Sign in`}
        busy={busy}
        submit={say`Sign in`}
        onSubmit={() =>
          send(async () => {
            await api.signIn({ name, password })
            goOn(to)
          })
        }
      >
        <FormProblem problem={problem} fields={[]} />
        <div class="fields">
          <NameField value={name} onInput={setName} />
          <SecretField
            label={say`Password`}
            value={password}
            onInput={setPassword}
            autocomplete="current-password"
          />
        </div>
      </Form>
      <p class="hint">
        {say`Forgotten? At the hub’s own machine, this command sets a new one:`}{' '}
        <code>npm run loamline -- owner</code>
      </p>
    </>
  )
}

function OwnerForm({ needsCode, to }: { needsCode: boolean; to: string | undefined }) {
  const [name, setName] = useState('')
  const [password, setPassword] = useState('')
  const [code, setCode] = useState('')
  const { problem, busy, send } = useSend()
  return (
    <>
      <h1>{say`Make the owner`}</h1>
      <p class="sentence">
        {needsCode
          ? say`Nobody owns this hub yet. Whoever makes the owner needs the code that stands in the hub’s log.`
          : say`Nobody owns this hub yet: whoever sits at its machine may do everything. With an owner, everybody has to sign in.`}
      </p>
      <Form
        needs="nothing"
        label={say`Make the owner`}
        busy={busy}
        submit={say`Make the owner`}
        onSubmit={() =>
          send(async () => {
            await api.makeOwner({ name, password, ...(needsCode ? { code } : {}) })
            goOn(to)
          })
        }
      >
        <FormProblem problem={problem} fields={['name', 'password', 'code']} />
        <div class="fields">
          <NameField value={name} onInput={setName} error={errorFor(problem, 'name')} />
          <SecretField
            label={say`Password`}
            value={password}
            onInput={setPassword}
            autocomplete="new-password"
            hint={say`at least 10 characters; a few words are easy to keep in mind`}
            error={errorFor(problem, 'password')}
          />
          {needsCode && (
            <Field
              label={say`Code from the log`}
              value={code}
              onInput={setCode}
              hint="ABCD-EFGH-IJKL"
              error={errorFor(problem, 'code')}
            />
          )}
        </div>
      </Form>
    </>
  )
}

function In({ who, to }: { who: WhoView; to: string | undefined }) {
  return (
    <>
      <h1>{say`Signed in`}</h1>
      {who.name !== null && <p class="sentence">{say`Signed in as ${who.name}`}</p>}
      <p class="buttons">
        <a class="button main" href={ownPage(to)}>
          {say`Go on`}
        </a>
        <button
          type="button"
          onClick={() => {
            void api.signOut().finally(() => location.reload())
          }}
        >
          {say`Sign out`}
        </button>
      </p>
    </>
  )
}

/** Signing in, making the first owner, and back to where somebody was. */
export function SignInView({ to }: { to: string | undefined }) {
  const who = useLoad('who', api.who)
  const [, setSpoken] = useState(language())
  const wanted = who.data?.language
  useEffect(() => {
    document.title = `${say`Sign in`} · Loamline`
    if (wanted === undefined || wanted === language()) return
    speak(wanted).then(
      () => setSpoken(wanted),
      () => undefined,
    )
  }, [wanted])
  return (
    <>
      <header class="top">
        <span class="brand">Loamline</span>
      </header>
      <main id="main" class="narrow" tabIndex={-1}>
        {who.problem !== null && (
          <p class="error" role="alert">
            {who.problem.detail ?? who.problem.title}{' '}
            <button type="button" onClick={who.reload}>{say`Fetch again`}</button>
          </p>
        )}
        {who.data?.state === 'sign in' && <SignInForm key={language()} to={to} />}
        {who.data?.state === 'open' && <OwnerForm key={language()} needsCode={false} to={to} />}
        {who.data?.state === 'no owner' && <OwnerForm key={language()} needsCode to={to} />}
        {who.data?.state === 'in' && <In who={who.data} to={to} />}
      </main>
    </>
  )
}
