import { useEffect, useState } from 'preact/hooks'
import { api } from '../../api.ts'
import { useHub, useLoad } from '../../hub-context.tsx'
import { MATERIALS } from '../../materials.ts'
import { errorFor } from '../../problem.ts'
import { said, saidOptions, say, toSay } from '../../say.ts'
import { planOf, trialOf } from '../../trial-draft.ts'
import type { TrialDraft } from '../../trial-draft.ts'
import { TreatmentCaution } from '../caution.tsx'
import { Choices, Field, FormProblem, useSend } from '../field.tsx'
import { Form } from '../form.tsx'
import { Plan } from './plan.tsx'
import { Roles } from './roles.tsx'

const SHOWN = [
  'claim',
  'material',
  'direction',
  'leastEffect',
  'treated',
  'untreated',
  'startsAt',
  'days',
]
const SETTLE_MS = 350

const DIRECTIONS = [
  { value: 'lowers', words: toSay('lowers the pH') },
  { value: 'raises', words: toSay('raises the pH') },
  { value: 'changes', words: toSay('changes it either way') },
] as const

/** What stands still for a moment: the plan is not asked for at every key. */
function useSettled(text: string): string {
  const [settled, setSettled] = useState(text)
  useEffect(() => {
    const timer = setTimeout(() => setSettled(text), SETTLE_MS)
    return () => clearTimeout(timer)
  }, [text])
  return settled
}

/** The plan for what stands in the form, while it is being filled in. */
function LivePlan({ draft }: { draft: TrialDraft }) {
  const { garden } = useHub()
  const wanted = planOf(draft, garden.zone)
  const asked = useSettled(wanted === null ? '' : JSON.stringify(wanted))
  const plan = useLoad(asked === '' ? null : asked, (signal) =>
    api.planTrial(JSON.parse(asked) as Parameters<typeof api.planTrial>[0], signal),
  )
  const refused = plan.problem?.errors?.map(({ message }) => message).join('; ')
  return (
    <section class="live-plan" aria-labelledby="plan-title" data-testid="plan">
      <h3 id="plan-title">{say`What this would show`}</h3>
      {wanted === null || asked === '' ? (
        <p class="faint">{say`Name at least one treated and one untreated bed, the effect that matters and how long: then it is reckoned here before anything is put on.`}</p>
      ) : plan.problem !== null ? (
        <p class="error">
          {refused ??
            say`The plan could not be reckoned: ${plan.problem.detail ?? plan.problem.title}`}
        </p>
      ) : plan.data === null ? (
        <p class="faint">{say`Reckoning …`}</p>
      ) : (
        <Plan plan={plan.data} days={wanted.days} live />
      )}
    </section>
  )
}

/** States a claim and how it is put to the test. */
export function TrialForm({
  first,
  onDone,
}: {
  /** What stands in the form when it is opened. */
  first: () => TrialDraft
  onDone: (saved: boolean) => void
}) {
  const { garden, beds } = useHub()
  const [draft, setDraft] = useState(first)
  const { problem, busy, send, refuse } = useSend()
  const set = (change: Partial<TrialDraft>): void => setDraft((old) => ({ ...old, ...change }))
  const error = (path: string): string | null => errorFor(problem, path)
  const save = (): void => {
    const { trial, errors } = trialOf(draft, garden.zone)
    if (errors.length > 0) return refuse(errors)
    send(async () => {
      await api.addTrial(trial)
      onDone(true)
    })
  }
  const rolesError = [error('treated'), error('untreated')].filter((e) => e !== null).join('; ')
  return (
    <Form
      label={say`New trial`}
      onSubmit={save}
      busy={busy}
      submit={say`Start the trial`}
      onCancel={() => onDone(false)}
    >
      <FormProblem problem={problem} fields={SHOWN} />
      <div class="fields">
        <div class="field wide">
          <Field
            label={say`What is claimed`}
            value={draft.claim}
            hint={say`in your own words, such as: pine needles make the soil sour`}
            width="full"
            onInput={(claim) => set({ claim })}
            error={error('claim')}
          />
        </div>
        <Field
          label={say`What is put on`}
          value={draft.material}
          list={MATERIALS.map(said)}
          onInput={(material) => set({ material })}
          error={error('material')}
        />
        <Field
          label={say`Least effect that matters`}
          type="decimal"
          width="short"
          unit="pH"
          hint={say`smaller ones you would not mind missing`}
          value={draft.leastEffect}
          onInput={(leastEffect) => set({ leastEffect })}
          error={error('leastEffect')}
        />
        <div class="field wide">
          <Choices
            legend={say`It is said that it`}
            value={draft.direction}
            options={saidOptions(DIRECTIONS)}
            onChange={(direction) => set({ direction })}
          />
        </div>
        <Roles
          beds={beds}
          roles={draft.roles}
          onRole={(bed, role) =>
            setDraft((old) => ({ ...old, roles: { ...old.roles, [bed]: role } }))
          }
          error={rolesError === '' ? null : rolesError}
        />
        <Field
          label={say`Put on`}
          type="datetime-local"
          value={draft.startsAt}
          hint={say`on the garden's clock, ${garden.zone}`}
          onInput={(startsAt) => set({ startsAt })}
          error={error('startsAt')}
        />
        <Field
          label={say`Runs for`}
          type="decimal"
          width="short"
          unit={say`days`}
          value={draft.days}
          onInput={(days) => set({ days })}
          error={error('days')}
        />
      </div>
      <LivePlan draft={draft} />
      <TreatmentCaution />
      <p class="faint">{say`The claim, the beds and the length cannot be changed afterwards, so that nobody stops at the moment that pleases. Write what you put on in the journal of each treated bed.`}</p>
    </Form>
  )
}
