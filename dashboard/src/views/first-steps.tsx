import type { ComponentChildren } from 'preact'
import { brokerPlace } from '../broker-place.ts'
import { useHub } from '../hub-context.tsx'
import { Link } from '../parts/link.tsx'
import { say } from '../say.ts'
import '../look/first-steps.css'

interface StepProps {
  readonly title: string
  readonly state: 'done' | 'now' | ''
  readonly children: ComponentChildren
}

function Step({ title, state, children }: StepProps) {
  return (
    <li class={state} aria-current={state === 'now' ? 'step' : undefined}>
      <h2>
        {title}
        {state === 'done' && <span class="faint"> {say`done`}</span>}
      </h2>
      {children}
    </li>
  )
}

/** Leads an empty hub to its first bed, first spot and first reading. */
export function FirstSteps() {
  const { garden, beds, probes, health } = useHub()
  const { host, port } = brokerPlace(health?.broker.address ?? '', location.hostname)
  const bed = beds[0]
  const spot = bed?.spots[0]
  const own = probes.find((probe) => probe.adoptedAt !== null)
  const stranger = probes.find((probe) => probe.adoptedAt === null)
  const line =
    `mosquitto_pub -h ${host} -p ${port} -t lm1/${own?.id ?? 'sill1'}/up/r ` +
    `-m '{"b":1,"n":0,"u":5,"v":{"phmv":12.4,"m1":1873,"st":18.2}}'`
  const step = bed === undefined ? 1 : spot === undefined ? 2 : own === undefined ? 3 : 4
  const state = (n: number): StepProps['state'] => (n < step ? 'done' : n === step ? 'now' : '')
  return (
    <section class="first-steps" aria-label={say`First steps`}>
      <p class="sentence">
        {say`A page with nothing on it yet. Four steps bring the first bed’s line onto the paper.`}
      </p>
      <p>
        {say`The garden is called “${garden.name}” and keeps the time of ${garden.zone}.`}{' '}
        <Link to={{ page: 'settings' }}>{say`Change name, time zone, units or language`}</Link>
      </p>
      <ol>
        <Step title={say`First bed`} state={state(1)}>
          <p>
            {say`Name it, say how large and how deep it is, what soil it holds and what grows in it.`}
          </p>
          {step === 1 && (
            <Link data-needs="change" to={{ page: 'new-bed' }} class="button main">
              {say`Add the first bed`}
            </Link>
          )}
        </Step>
        <Step title={say`First spot`} state={state(2)}>
          <p>
            {say`A spot is a place in the bed where a probe sits, such as “north end”. Two or three, apart from each other, say much more than one.`}
          </p>
          {bed !== undefined && step === 2 && (
            <Link to={{ page: 'bed', id: bed.id }} class="button main">
              {say`Add a spot to ${bed.name}`}
            </Link>
          )}
        </Step>
        <Step title={say`First reading`} state={state(3)}>
          <p>
            {say`Let a probe send, or play one yourself on the hub’s own machine. From the network a probe needs a password, which the page of probes makes. Probe ids are 3 to 23 lower-case letters and digits.`}
          </p>
          <pre class="command">
            <code>{line}</code>
          </pre>
          <p>
            {stranger === undefined
              ? say`As soon as it has spoken, it is offered on this page to be taken in.`
              : say`${stranger.id} has spoken: take it in, at the top of this page.`}
          </p>
          {step === 3 && (
            <p>
              <Link to={{ page: 'probes' }}>{say`Add a probe with a password of its own`}</Link>
            </p>
          )}
        </Step>
        <Step title={say`Put the probe in its spot`} state={state(4)}>
          <p>
            {say`On the probe’s page: say where it sits and enter its calibration; until then the electrode is taken for an ideal one, with a wide doubt.`}
          </p>
          {own !== undefined && step === 4 && (
            <Link to={{ page: 'probe', id: own.id }} class="button main">
              {say`Place ${own.name}`}
            </Link>
          )}
        </Step>
      </ol>
    </section>
  )
}
