import { useState } from 'preact/hooks'
import type { OrderView, ProbeOrders } from '../../../hub/api/schemas/order.ts'
import type { ProbeDetail } from '../../../hub/api/schemas/probe-account.ts'
import { api } from '../api.ts'
import { age, span, whole } from '../format.ts'
import { parseNumber } from '../number-field.ts'
import { useHub, useNow } from '../hub-context.tsx'
import { errorFor } from '../problem.ts'
import { said, say, toSay } from '../say.ts'
import { Field, FormProblem, useSend } from './field.tsx'
import { Form } from './form.tsx'

type Command = NonNullable<OrderView['what']>

const COMMANDS: readonly { readonly what: Command; readonly words: string }[] = [
  { what: 'read', words: toSay('Measure now') },
  { what: 'ident', words: toSay('Show which one it is') },
  { what: 'hello', words: toSay('Describe itself anew') },
  { what: 'reboot', words: toSay('Restart') },
]

const STATE_WORDS: Readonly<Record<OrderView['state'], string>> = {
  waiting: toSay('waits until the probe wakes'),
  sent: toSay('sent, no answer yet'),
  done: toSay('done'),
  refused: toSay('refused'),
  expired: toSay('expired without an answer'),
}

function wordsOf(order: OrderView): string {
  if (order.kind === 'resend') {
    const first = order.from ?? 0
    const count = order.count ?? 1
    const boot = order.boot ?? 0
    return count === 1
      ? say`Asked for reading ${first} of boot ${boot} once more`
      : say`Asked for readings ${first} to ${first + count - 1} of boot ${boot} once more`
  }
  return said(COMMANDS.find(({ what }) => what === order.what)?.words ?? order.kind)
}

/** What became of it, with the probe's own word when it refused. */
function outcome(order: OrderView, now: number): string {
  const when = order.answeredAt ?? order.sentAt
  const words =
    order.kind === 'resend' && order.reason === 'gone'
      ? say`no longer held by the probe, written off`
      : `${said(STATE_WORDS[order.state])}${order.reason === null ? '' : `: ${order.reason}`}`
  const often = order.times > 1 ? say`, sent ${order.times} times` : ''
  return `${words}${often}${when === null ? '' : `, ${age(when, now)}`}`
}

/** Settings and commands for a probe, and what it answered. */
export function Orders({ probe, onChange }: { probe: ProbeDetail; onChange: () => void }) {
  return (
    <section class="sheet" aria-labelledby="orders">
      <h2 id="orders">{say`Settings and commands`}</h2>
      <Settings probe={probe} onChange={onChange} />
      <Commands probe={probe} onChange={onChange} />
    </section>
  )
}

function Settings({ probe, onChange }: { probe: ProbeDetail; onChange: () => void }) {
  const { garden } = useHub()
  const { standing } = probe.orders
  const shown = standing?.settings ?? null
  const text = (n: number | null | undefined): string =>
    n === null || n === undefined ? '' : String(n)
  const [interval, setInterval] = useState(text(shown?.intervalS))
  const [samples, setSamples] = useState(text(shown?.samples))
  const [settle, setSettle] = useState(text(shown?.settleS))
  const { problem, busy, send, refuse } = useSend()
  const save = (): void => {
    const wrong: { path: string; message: string }[] = []
    const read = (path: string, typed: string): number | null => {
      if (typed.trim() === '') return null
      const value = parseNumber(typed)
      if (value !== null && Number.isInteger(value)) return value
      wrong.push({ path, message: say`expected a whole number, got ${typed}` })
      return null
    }
    const wanted = {
      intervalS: read('intervalS', interval),
      samples: read('samples', samples),
      settleS: read('settleS', settle),
    }
    if (wrong.length > 0) return refuse(wrong)
    send(async () => {
      await api.saveProbeSettings(probe.id, wanted)
      onChange()
    })
  }
  return (
    <>
      <p class="sentence">{settingsSentence(probe.orders)}</p>
      <Form
        label={say`Settings of the probe`}
        busy={busy}
        submit={say`Send settings`}
        onSubmit={save}
      >
        <FormProblem problem={problem} fields={['intervalS', 'samples', 'settleS']} />
        <div class="fields">
          <Field
            label={say`Measure every`}
            unit="s"
            type="decimal"
            width="short"
            value={interval}
            onInput={setInterval}
            hint={
              probe.intervalS === null
                ? say`60 to 86400`
                : say`60 to ${whole(86_400, garden.units)}; now every ${span(probe.intervalS)}`
            }
            error={errorFor(problem, 'intervalS')}
          />
          <Field
            label={say`Samples for one reading`}
            type="decimal"
            width="short"
            value={samples}
            onInput={setSamples}
            hint={say`1 to 256; 16 or more are usual for an electrode`}
            error={errorFor(problem, 'samples')}
          />
          <Field
            label={say`Time to settle`}
            unit="s"
            type="decimal"
            width="short"
            value={settle}
            onInput={setSettle}
            hint={say`0 to 600; empty fields are left to the probe`}
            error={errorFor(problem, 'settleS')}
          />
        </div>
      </Form>
    </>
  )
}

/** What is wanted, whether the probe has it, and what to do. */
function settingsSentence({ settings, standing }: ProbeOrders): string {
  if (settings === null)
    return say`The probe runs on settings of its own; none were ever sent from here.`
  if (settings.state === 'done') return say`The probe took the settings below and said so.`
  if (settings.state === 'refused') {
    const refused =
      settings.reason === null
        ? say`The probe refused the newest settings as a whole, without saying why.`
        : say`The probe refused the newest settings as a whole, and named: ${settings.reason}.`
    const kept =
      standing === null
        ? say`It keeps settings of its own; send others within what it can do.`
        : say`It keeps the ones before, shown below; send others within what it can do.`
    return `${refused} ${kept}`
  }
  return say`The settings below stand at the broker for the probe, and it has not answered yet. It finds them when it connects next; a probe that does not take settings never answers.`
}

function Commands({ probe, onChange }: { probe: ProbeDetail; onChange: () => void }) {
  const now = useNow()
  const { problem, busy, send } = useSend()
  const asleep = probe.state === 'sleep' || probe.state === 'off'
  const { others } = probe.orders
  return (
    <>
      <h3>{say`Commands`}</h3>
      {asleep && (
        <p class="sentence">
          {probe.state === 'sleep'
            ? say`The probe sleeps: a command reaches it when it wakes, within a day, or not at all.`
            : say`The probe is away: a command reaches it when it wakes, within a day, or not at all.`}
        </p>
      )}
      <FormProblem problem={problem} fields={[]} />
      <div class="buttons">
        {COMMANDS.map(({ what, words }) => (
          <button
            data-needs="change"
            key={what}
            type="button"
            disabled={busy}
            onClick={() =>
              send(async () => {
                await api.commandProbe(probe.id, what)
                onChange()
              })
            }
          >
            {said(words)}
          </button>
        ))}
      </div>
      {others.length > 0 && (
        <table class="stack">
          <thead>
            <tr>
              <th scope="col">{say`Wanted`}</th>
              <th scope="col">{say`Asked`}</th>
              <th scope="col">{say`Result`}</th>
            </tr>
          </thead>
          <tbody>
            {others.map((order) => (
              <tr key={order.id}>
                <td>{wordsOf(order)}</td>
                <td data-label={say`Asked`}>{age(order.madeAt, now)}</td>
                <td data-label={say`Result`}>{outcome(order, now)}</td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
    </>
  )
}
