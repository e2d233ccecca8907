import { useState } from 'preact/hooks'
import { api } from '../../api.ts'
import { say } from '../../say.ts'
import { useWho } from '../../who.ts'
import { Link } from '../link.tsx'

/** For so long somebody who has read it is not told again. */
const READ_FOR_MS = 30 * 86_400_000
const READ = 'loamline:exposed-read'

const hasRead = (): boolean => Date.now() - Number(localStorage.getItem(READ) ?? 0) < READ_FOR_MS

/** Who is signed in, and what stands open that should not. */
export function AccessLine() {
  const who = useWho()
  const [read, setRead] = useState(hasRead)
  if (who === null) return null
  const here = { page: 'sign-in', to: location.pathname + location.search } as const
  return (
    <>
      {who.name !== null && (
        <p class="signed-in">
          {say`Signed in as ${who.name}`}{' '}
          <button
            type="button"
            class="quiet"
            onClick={() => {
              void api.signOut().finally(() => location.assign('/sign-in'))
            }}
          >
            {say`Sign out`}
          </button>
        </p>
      )}
      {who.state === 'no owner' && (
        <p class="connection" role="status">
          {say`Nobody owns this hub yet: from this machine you may look, but change nothing.`}{' '}
          <Link to={here}>{say`Make the owner`}</Link>
        </p>
      )}
      {who.exposed && who.state === 'open' && (
        <p class="connection" role="status">
          {say`This hub can be reached from other machines, and nobody owns it yet.`}{' '}
          <Link to={here}>{say`Make the owner`}</Link>
        </p>
      )}
      {who.exposed && who.state === 'in' && who.scopes.includes('own') && !read && (
        <p class="connection" role="status">
          {say`What goes to and from this hub is not encrypted: at home only, never open to the Internet.`}{' '}
          <button
            type="button"
            onClick={() => {
              localStorage.setItem(READ, String(Date.now()))
              setRead(true)
            }}
          >
            {say`Understood`}
          </button>
        </p>
      )}
    </>
  )
}
