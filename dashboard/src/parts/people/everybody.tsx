import { useState } from 'preact/hooks'
import type { PersonView } from '../../../../hub/api/schemas/account.ts'
import { api } from '../../api.ts'
import { age, dateOnly, dateTime } from '../../format.ts'
import { useHub, useNow } from '../../hub-context.tsx'
import { errorFor } from '../../problem.ts'
import { said, saidOptions, say, toSay } from '../../say.ts'
import { useWho } from '../../who.ts'
import { Choices, FormProblem, useSend } from '../field.tsx'
import { Confirm, Form } from '../form.tsx'
import { PasswordForm } from './password-form.tsx'
import { NameField, SecretField } from './secret-field.tsx'

const ROLES = [
  { value: 'viewer', words: toSay('looks at everything') },
  { value: 'owner', words: toSay('owns the hub') },
] as const
const ROLE_WORDS = { owner: toSay('owns the hub'), viewer: toSay('looks at everything') } as const

function Sessions({ person, onChange }: { person: PersonView; onChange: () => void }) {
  const { garden } = useHub()
  const now = useNow()
  const { problem, send } = useSend()
  if (person.sessions.length === 0) return <p class="faint">{say`Signed in nowhere.`}</p>
  return (
    <>
      <FormProblem problem={problem} fields={[]} />
      <ul class="sessions">
        {person.sessions.map((session) => (
          <li key={session.id}>
            <span>
              {session.device === '' ? say`A browser that says nothing of itself` : session.device}
              {session.thisOne && <strong> · {say`this one`}</strong>}
            </span>{' '}
            <span class="faint">
              {say`since ${dateOnly(session.startedAt, garden)}, last used ${age(session.seenAt, now)}, ends ${dateOnly(session.endsAt, garden)} if it is not used`}
            </span>{' '}
            {!session.thisOne && (
              <button
                type="button"
                onClick={() =>
                  send(async () => {
                    await api.endSession(session.id)
                    onChange()
                  })
                }
              >
                {say`End this`}
              </button>
            )}
          </li>
        ))}
      </ul>
    </>
  )
}

function PersonRow({ person, onChange }: { person: PersonView; onChange: () => void }) {
  const { garden } = useHub()
  const who = useWho()
  const isMe = who?.personId === person.id
  const [asked, setAsked] = useState(false)
  const { problem, send } = useSend()
  const change = (work: () => Promise<unknown>): void =>
    send(async () => {
      await work()
      onChange()
    })
  const other = person.role === 'owner' ? 'viewer' : 'owner'
  return (
    <li class="person">
      <h3>
        {person.name}
        {isMe && <small> · {say`you`}</small>}
      </h3>
      <p>
        {said(ROLE_WORDS[person.role])}{' '}
        <span class="faint">· {say`password of ${dateTime(person.passwordAt, garden)}`}</span>
      </p>
      <FormProblem problem={problem} fields={[]} />
      <Sessions person={person} onChange={onChange} />
      {asked ? (
        <PasswordForm
          person={person}
          isMe={isMe}
          onDone={() => {
            setAsked(false)
            onChange()
          }}
        />
      ) : (
        <p class="buttons">
          <button type="button" onClick={() => setAsked(true)}>
            {isMe ? say`Change my password` : say`Give a new password`}
          </button>
          {!isMe && (
            <>
              <Confirm
                words={person.role === 'owner' ? say`Let only look` : say`Make an owner`}
                ask={
                  person.role === 'owner'
                    ? say`${person.name} will change nothing any more. Go on?`
                    : say`${person.name} will be able to do everything here. Go on?`
                }
                onYes={() =>
                  change(() => api.savePerson(person.id, { name: person.name, role: other }))
                }
              />
              <Confirm
                words={say`Take the account away`}
                ask={say`${person.name} will be signed out everywhere and cannot come back. Go on?`}
                onYes={() => change(() => api.removePerson(person.id))}
              />
            </>
          )}
        </p>
      )}
    </li>
  )
}

function AddPerson({ onDone }: { onDone: () => void }) {
  const [name, setName] = useState('')
  const [password, setPassword] = useState('')
  const [role, setRole] = useState<PersonView['role']>('viewer')
  const { problem, busy, send } = useSend()
  return (
    <Form
      label={say`Add somebody`}
      busy={busy}
      submit={say`Add`}
      onCancel={onDone}
      onSubmit={() =>
        send(async () => {
          await api.addPerson({ name, role, password })
          onDone()
        })
      }
    >
      <FormProblem problem={problem} fields={['name', 'password']} />
      <div class="fields">
        <NameField value={name} onInput={setName} error={errorFor(problem, 'name')} />
        <SecretField
          label={say`First password`}
          value={password}
          onInput={setPassword}
          autocomplete="new-password"
          hint={say`at least 10 characters; tell it in person, and let them change it`}
          error={errorFor(problem, 'password')}
        />
        <Choices
          legend={say`This person`}
          value={role}
          options={saidOptions(ROLES)}
          onChange={setRole}
        />
      </div>
    </Form>
  )
}

/** Everybody with a password: their role, where they are signed in, and what to do about it. */
export function Everybody({
  people,
  onChange,
}: {
  people: readonly PersonView[]
  onChange: () => void
}) {
  const [adding, setAdding] = useState(false)
  return (
    <section class="sheet" aria-labelledby="everybody">
      <h2 id="everybody">{say`People`}</h2>
      <ul class="people">
        {people.map((person) => (
          <PersonRow key={person.id} person={person} onChange={onChange} />
        ))}
      </ul>
      {adding ? (
        <AddPerson
          onDone={() => {
            setAdding(false)
            onChange()
          }}
        />
      ) : (
        <p class="buttons">
          <button type="button" onClick={() => setAdding(true)}>{say`Add somebody`}</button>
        </p>
      )}
    </section>
  )
}
