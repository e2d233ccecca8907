import { useState } from 'preact/hooks'
import type { PersonView } from '../../../../hub/api/schemas/account.ts'
import { api } from '../../api.ts'
import { errorFor } from '../../problem.ts'
import { say } from '../../say.ts'
import { FormProblem, useSend } from '../field.tsx'
import { Form } from '../form.tsx'
import { SecretField } from './secret-field.tsx'

/** A new password for oneself, with the one of now, or for somebody else. */
export function PasswordForm({
  person,
  isMe,
  onDone,
}: {
  person: Pick<PersonView, 'id' | 'name'>
  isMe: boolean
  onDone: () => void
}) {
  const [current, setCurrent] = useState('')
  const [password, setPassword] = useState('')
  const { problem, busy, send } = useSend()
  return (
    <Form
      label={say`New password of ${person.name}`}
      needs="nothing"
      busy={busy}
      submit={say`Set the password`}
      onCancel={onDone}
      onSubmit={() =>
        send(async () => {
          await (isMe
            ? api.changePassword({ current, password })
            : api.givePassword(person.id, password))
          onDone()
        })
      }
    >
      <FormProblem problem={problem} fields={['current', 'password']} />
      <div class="fields">
        {isMe && (
          <SecretField
            label={say`Password of now`}
            value={current}
            onInput={setCurrent}
            autocomplete="current-password"
            error={errorFor(problem, 'current')}
          />
        )}
        <SecretField
          label={say`New password`}
          value={password}
          onInput={setPassword}
          autocomplete="new-password"
          hint={say`at least 10 characters; everywhere else this person is signed out`}
          error={errorFor(problem, 'password')}
        />
      </div>
    </Form>
  )
}
