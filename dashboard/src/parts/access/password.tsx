import { useState } from 'preact/hooks'
import type { ProbeSetup } from '../../../../hub/api/schemas/access.ts'
import type { ProbeView } from '../../../../hub/api/schemas/probe.ts'
import { api } from '../../api.ts'
import { dateTime } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { FormProblem, useSend } from '../field.tsx'
import { Confirm } from '../form.tsx'
import { Setup } from './setup.tsx'

/** Whether the probe needs a password, and the buttons that make, renew and take it away. */
export function Password({ probe, onChange }: { probe: ProbeView; onChange: () => void }) {
  const { garden } = useHub()
  const { problem, busy, send } = useSend()
  const [setup, setSetup] = useState<ProbeSetup | null>(null)
  const { password, since, wrongAt } = probe.access
  const make = (): void =>
    send(async () => {
      setSetup(await api.makePassword(probe.id))
      onChange()
    })
  const takeAway = (): void =>
    send(async () => {
      await api.revokePassword(probe.id)
      setSetup(null)
      onChange()
    })
  if (setup !== null) return <Setup setup={setup} onDone={() => setSetup(null)} />
  return (
    <section class="sheet" aria-labelledby="password">
      <h2 id="password">{say`Password`}</h2>
      <p class="sentence">
        {password === 'none' &&
          say`This probe has no password: whoever the broker lets in can send under its id.`}
        {password === 'set' &&
          say`Only who gives its password, made ${dateTime(since ?? 0, garden)}, sends under this id.`}
        {password === 'revoked' &&
          say`Its password was taken away ${dateTime(since ?? 0, garden)}: nothing is let in under this id until it gets a new one.`}
      </p>
      {wrongAt !== null && (
        <p class="sentence">{say`A wrong password was given for it ${dateTime(wrongAt, garden)}. If that was the probe, its firmware holds an old one.`}</p>
      )}
      <FormProblem problem={problem} fields={[]} />
      <p class="buttons" aria-busy={busy}>
        {password === 'set' ? (
          <>
            <Confirm
              words={say`Renew the password`}
              ask={say`The old one stops working at once. Renew it?`}
              onYes={make}
            />
            <Confirm
              words={say`Take the password away`}
              ask={say`Nothing will be let in under this id. Take it away?`}
              onYes={takeAway}
            />
          </>
        ) : (
          <button data-needs="change" type="button" onClick={make}>{say`Make a password`}</button>
        )}
      </p>
    </section>
  )
}
