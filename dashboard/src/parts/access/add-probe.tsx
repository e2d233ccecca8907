import { useState } from 'preact/hooks'
import type { ProbeSetup } from '../../../../hub/api/schemas/access.ts'
import { api } from '../../api.ts'
import { useHub } from '../../hub-context.tsx'
import { errorFor } from '../../problem.ts'
import { say } from '../../say.ts'
import { go } from '../../use-route.ts'
import { Choices, Field, FormProblem, useSend } from '../field.tsx'
import { Form } from '../form.tsx'
import { Setup } from './setup.tsx'

/** Adds a probe before it has spoken, with a password of its own unless its firmware cannot give one. */
export function AddProbe() {
  const { refresh } = useHub()
  const [id, setId] = useState('')
  const [name, setName] = useState('')
  const [secret, setSecret] = useState<'own' | 'none'>('own')
  // When the password could not be made, trying again must not add a second probe.
  const [added, setAdded] = useState<string | null>(null)
  const [setup, setSetup] = useState<ProbeSetup | null>(null)
  const { problem, busy, send } = useSend()
  if (setup !== null) {
    return <Setup setup={setup} onDone={() => go({ page: 'probe', id: setup.id })} />
  }
  return (
    <section class="sheet" aria-labelledby="new-probe">
      <h2 id="new-probe">{say`Add a probe`}</h2>
      <p class="sentence">{say`The hub makes an id and a password and shows what goes into the firmware. A probe that sends already is offered above by itself.`}</p>
      <Form
        label={say`New probe`}
        busy={busy}
        submit={say`Add the probe`}
        onSubmit={() =>
          send(async () => {
            const wanted = id.trim()
            const own =
              added ?? (await api.addProbe({ name, ...(wanted === '' ? {} : { id: wanted }) })).id
            setAdded(own)
            const made = secret === 'own' ? await api.makePassword(own) : null
            await refresh('probes')
            if (made === null) go({ page: 'probe', id: own })
            else setSetup(made)
          })
        }
      >
        <FormProblem problem={problem} fields={['id', 'name']} />
        <div class="fields">
          <Field
            label={say`Name`}
            value={name}
            onInput={setName}
            hint={say`such as the bed and the place`}
            error={errorFor(problem, 'name')}
          />
          <Field
            label={say`Probe id`}
            value={id}
            onInput={setId}
            hint={say`empty: made from the name; else 3 to 23 lower-case letters and digits, a letter first`}
            error={errorFor(problem, 'id')}
          />
        </div>
        <Choices
          legend={say`Password`}
          value={secret}
          onChange={setSecret}
          options={[
            { value: 'own', words: say`One of its own` },
            { value: 'none', words: say`None: its firmware gives none` },
          ]}
        />
      </Form>
    </section>
  )
}
