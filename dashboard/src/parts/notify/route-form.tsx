import { useState } from 'preact/hooks'
import type { RouteView } from '../../../../hub/api/schemas/message.ts'
import { api } from '../../api.ts'
import { useHub } from '../../hub-context.tsx'
import { errorFor } from '../../problem.ts'
import { saidOptions, say, toSay } from '../../say.ts'
import { Choice, Choices, Field, FormProblem, useSend } from '../field.tsx'
import { Form } from '../form.tsx'
import { ALARM_KINDS, type AlarmKind } from './alarm-kinds.ts'
import { Check, CheckList } from './check-list.tsx'
import { newDraft, toDraft, toInput, type RouteDraft, type Way } from './route-draft.ts'
import { kindOptions, PRIORITY_OPTIONS, TELLS_OPTIONS } from './route-words.ts'
import { TargetFields } from './target-fields.tsx'

const WAYS = [
  { value: 'e-mail', words: toSay('E-mail') },
  { value: 'push', words: toSay('This browser') },
  { value: 'webhook', words: toSay('Webhook') },
  { value: 'mqtt', words: toSay('MQTT') },
] as const

const AT_ONCE = [
  { value: 'low', words: toSay('everything at once') },
  { value: 'medium', words: toSay('medium and high urgency at once, the rest as a summary') },
  { value: 'high', words: toSay('high urgency at once, the rest as a summary') },
] as const

const THROUGH = [
  { value: 'none', words: toSay('nothing') },
  { value: 'high', words: toSay('alarms of high urgency') },
  { value: 'medium', words: toSay('alarms of medium and high urgency') },
] as const

interface PartProps {
  readonly draft: RouteDraft
  readonly set: (change: Partial<RouteDraft>) => void
  readonly error: (field: string) => string | null
}

function Which({ draft, set, error }: PartProps) {
  const { beds } = useHub()
  return (
    <fieldset class="wide">
      <legend>{say`Which alarms`}</legend>
      <div class="fields">
        <Choice
          label={say`How urgent`}
          value={draft.leastPriority}
          options={saidOptions(PRIORITY_OPTIONS)}
          onChange={(value) => set({ leastPriority: value as RouteDraft['leastPriority'] })}
        />
        <Choice
          label={say`What is told of one`}
          value={draft.tells}
          options={saidOptions(TELLS_OPTIONS)}
          onChange={(value) => set({ tells: value as RouteDraft['tells'] })}
        />
      </div>
      <details class="more" open={draft.kinds.length !== ALARM_KINDS.length || draft.beds !== null}>
        <summary>{say`Only some kinds, or only some beds`}</summary>
        <CheckList
          legend={say`Kinds`}
          options={kindOptions()}
          chosen={draft.kinds as readonly string[]}
          onChange={(kinds) => set({ kinds: kinds as readonly AlarmKind[] })}
          error={error('kinds')}
        />
        <Check
          words={say`Only some beds`}
          checked={draft.beds !== null}
          onChange={(some) => set({ beds: some ? beds.map(({ id }) => id) : null })}
        />
        {draft.beds !== null && (
          <CheckList
            legend={say`Beds`}
            options={beds.map(({ id, name }) => ({ value: id, words: name }))}
            chosen={draft.beds}
            onChange={(chosen) => set({ beds: chosen })}
            error={error('beds')}
          />
        )}
      </details>
    </fieldset>
  )
}

function When({ draft, set, error }: PartProps) {
  return (
    <fieldset class="wide">
      <legend>{say`When`}</legend>
      <div class="fields">
        <Choice
          label={say`At once or as a summary`}
          value={draft.atOnceFrom}
          options={saidOptions(AT_ONCE)}
          onChange={(value) => set({ atOnceFrom: value as RouteDraft['atOnceFrom'] })}
        />
        {draft.atOnceFrom !== 'low' && (
          <Field
            label={say`Summary at`}
            width="short"
            value={draft.digestAt}
            onInput={(digestAt) => set({ digestAt })}
            hint={say`garden time, such as 07:00`}
            error={error('digestAt')}
          />
        )}
        <Field
          label={say`Gather what happens in a bed for`}
          type="decimal"
          width="short"
          unit={say`minutes`}
          value={draft.gatherMin}
          onInput={(gatherMin) => set({ gatherMin })}
          error={error('gatherMin')}
        />
      </div>
      <Check words={say`Quiet hours`} checked={draft.quiet} onChange={(quiet) => set({ quiet })} />
      {draft.quiet && (
        <div class="fields">
          <Field
            label={say`Quiet from`}
            width="short"
            value={draft.quietFrom}
            onInput={(quietFrom) => set({ quietFrom })}
            error={error('quiet.from')}
          />
          <Field
            label={say`until`}
            width="short"
            value={draft.quietTo}
            onInput={(quietTo) => set({ quietTo })}
            error={error('quiet.to')}
          />
          <Choice
            label={say`What comes through`}
            value={draft.letThrough}
            options={saidOptions(THROUGH)}
            onChange={(value) => set({ letThrough: value as RouteDraft['letThrough'] })}
          />
        </div>
      )}
    </fieldset>
  )
}

function Again({ draft, set, error, others }: PartProps & { others: readonly RouteView[] }) {
  const nobody = { value: '', words: say`nobody` }
  return (
    <fieldset class="wide">
      <legend>{say`When nobody acknowledges, and when it is too much`}</legend>
      <div class="fields">
        <Field
          label={say`Tell again every`}
          type="decimal"
          width="short"
          unit={say`minutes`}
          value={draft.repeatMin}
          onInput={(repeatMin) => set({ repeatMin })}
          hint={say`empty: never`}
          error={error('repeatMin')}
        />
        {others.length > 0 && (
          <Choice
            label={say`Tell also`}
            value={draft.escalateTo}
            options={[nobody, ...others.map(({ id, name }) => ({ value: `${id}`, words: name }))]}
            onChange={(escalateTo) => set({ escalateTo })}
            error={error('escalate.to')}
          />
        )}
        {draft.escalateTo !== '' && (
          <Field
            label={say`after`}
            type="decimal"
            width="short"
            unit={say`minutes`}
            value={draft.escalateMin}
            onInput={(escalateMin) => set({ escalateMin })}
            error={error('escalate.afterMin')}
          />
        )}
        <Field
          label={say`Most messages an hour`}
          type="decimal"
          width="short"
          value={draft.mostPerHour}
          onInput={(mostPerHour) => set({ mostPerHour })}
          hint={say`more become one`}
          error={error('mostPerHour')}
        />
      </div>
    </fieldset>
  )
}

const FIELDS = [
  'name',
  'target',
  'kinds',
  'beds',
  'gatherMin',
  'digestAt',
  'quiet',
  'repeatMin',
  'escalate',
  'mostPerHour',
]

/** A new route, or one that is changed. */
export function RouteForm({
  route,
  routes,
  onDone,
}: {
  route: RouteView | null
  routes: readonly RouteView[]
  onDone: () => void
}) {
  const [draft, setDraft] = useState<RouteDraft>(
    route === null ? newDraft('e-mail') : toDraft(route),
  )
  const { problem, busy, send, refuse } = useSend()
  const set = (change: Partial<RouteDraft>): void => setDraft((old) => ({ ...old, ...change }))
  const error = (field: string): string | null => errorFor(problem, field)
  const others = routes.filter(({ id }) => id !== route?.id)
  const submit = (): void => {
    const checked = toInput(draft, location.origin)
    if ('errors' in checked) {
      refuse(checked.errors)
      return
    }
    send(async () => {
      await (route === null
        ? api.addMessageRoute(checked.input)
        : api.saveMessageRoute(route.id, checked.input))
      onDone()
    })
  }
  return (
    <div class="route-form">
      <Form
        label={route === null ? say`New route` : say`Change '${route.name}'`}
        busy={busy}
        submit={say`Save`}
        onCancel={onDone}
        onSubmit={submit}
      >
        <FormProblem problem={problem} fields={FIELDS} />
        {route === null && (
          <Choices
            legend={say`By`}
            value={draft.way}
            options={saidOptions(WAYS)}
            onChange={(way: Way) => setDraft({ ...newDraft(way), name: draft.name })}
          />
        )}
        <div class="fields">
          <Field
            label={say`Name of the route`}
            value={draft.name}
            onInput={(name) => set({ name })}
            hint={say`as you will recognise it`}
            error={error('name')}
          />
        </div>
        <TargetFields
          draft={draft}
          set={set}
          problem={problem}
          kept={route?.hasSecret === true && route.target.way === draft.way}
        />
        <Which draft={draft} set={set} error={error} />
        <When draft={draft} set={set} error={error} />
        <Again draft={draft} set={set} error={error} others={others} />
        <Check words={say`Switched on`} checked={draft.on} onChange={(on) => set({ on })} />
      </Form>
    </div>
  )
}
