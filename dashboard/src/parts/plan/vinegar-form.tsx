import { useState } from 'preact/hooks'
import { api } from '../../api.ts'
import { useHub } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { Choices, FormProblem, useSend } from '../field.tsx'
import { Form } from '../form.tsx'
import type { SettleFormProps } from './settle.tsx'

/** Whether there is free lime in the soil. */
export function VinegarForm({ bedId, onDone, onCancel }: SettleFormProps) {
  const { aheadMs } = useHub()
  const [fizzes, setFizzes] = useState<'yes' | 'no' | null>(null)
  const { problem, busy, send, refuse } = useSend()
  const save = (): void => {
    if (fizzes === null) return refuse([{ path: 'fizzes', message: say`say whether it fizzes` }])
    send(async () => {
      const at = Date.now() + aheadMs
      await api.addSoilTest(bedId, { kind: 'vinegar test', at, fizzes: fizzes === 'yes' })
      onDone()
    })
  }
  return (
    <Form
      label={say`Vinegar test`}
      onSubmit={save}
      busy={busy}
      submit={say`Write it down`}
      onCancel={onCancel}
    >
      <ol class="steps">
        <li>{say`Let a spoonful of soil from the worked depth dry, and crumble it on a saucer.`}</li>
        <li>{say`Pour household vinegar over it, keeping your face away.`}</li>
        <li>{say`Look and listen closely for a minute: bubbles and a hiss come from free lime. A few bubbles of air at once are none.`}</li>
      </ol>
      <Choices
        legend={say`Does it fizz?`}
        value={fizzes}
        options={[
          { value: 'yes', words: say`Yes, it fizzes` },
          { value: 'no', words: say`No` },
        ]}
        onChange={setFizzes}
      />
      {problem?.errors?.some(({ path }) => path === 'fizzes') === true && (
        <small class="error">{say`Say whether it fizzes.`}</small>
      )}
      <FormProblem problem={problem} fields={['fizzes']} />
    </Form>
  )
}
