import { useState } from 'preact/hooks'
import { api } from '../api.ts'
import { useHub, useLoad } from '../hub-context.tsx'
import { Link } from '../parts/link.tsx'
import { Everybody } from '../parts/people/everybody.tsx'
import { PasswordForm } from '../parts/people/password-form.tsx'
import { FeedAddress, Shares } from '../parts/people/shares.tsx'
import { Tokens } from '../parts/people/tokens.tsx'
import { say } from '../say.ts'
import { useWho } from '../who.ts'
import '../parts/people/people.css'

function All() {
  const people = useLoad('people', api.people)
  if (people.problem !== null) {
    return (
      <p class="error" role="alert">
        {people.problem.detail ?? people.problem.title}{' '}
        <button type="button" onClick={people.reload}>{say`Fetch again`}</button>
      </p>
    )
  }
  if (people.data === null) return <p class="quiet-line">{say`Opening …`}</p>
  return (
    <>
      <Everybody people={people.data} onChange={people.reload} />
      <Shares />
      <Tokens />
      <FeedAddress />
    </>
  )
}

/** What somebody who only looks may do about their account. */
function OwnPassword({ id, name }: { id: number; name: string }) {
  const [done, setDone] = useState(0)
  return (
    <section class="sheet" aria-labelledby="own-password">
      <h2 id="own-password">{name}</h2>
      <p class="sentence">{say`Only an owner sees who may do what. Signed in as ${name}.`}</p>
      <PasswordForm key={done} person={{ id, name }} isMe onDone={() => setDone(done + 1)} />
      <p role="status">{done > 0 && say`The password was set.`}</p>
    </section>
  )
}

/** Who may see and do what: people, shared beds, programs. */
export function PeopleView() {
  const { loaded } = useHub()
  const who = useWho()
  return (
    <>
      <div class="page-head">
        <h1>{say`People and access`}</h1>
        <p class="links">
          <Link to={{ page: 'settings' }}>{say`Settings`}</Link>
        </p>
      </div>
      {who === null || !loaded ? (
        <p class="quiet-line">{say`Opening …`}</p>
      ) : who.state === 'open' || who.state === 'no owner' ? (
        <section class="sheet" aria-labelledby="no-owner">
          <h2 id="no-owner">{say`Nobody owns this hub yet`}</h2>
          <p class="sentence">
            {say`Whoever sits at the hub’s machine may do everything, and nobody has to sign in. Make an owner before the hub is opened to your network: then there are passwords, people who only look, shared beds and tokens of programs.`}
          </p>
          <p class="buttons">
            <Link to={{ page: 'sign-in', to: '/settings/people' }} class="button main">
              {say`Make the owner`}
            </Link>
          </p>
        </section>
      ) : who.scopes.includes('own') ? (
        <All />
      ) : (
        <OwnPassword id={who.personId ?? 0} name={who.name ?? ''} />
      )}
    </>
  )
}
