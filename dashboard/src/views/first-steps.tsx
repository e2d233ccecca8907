import type { ComponentChildren } from 'preact'
import type { ProbeView } from '../../../hub/api/schemas/probe.ts'
import { brokerPlace } from '../broker-place.ts'
import { age, upTo } from '../format.ts'
import { SENSED_WORDS, sentWords } from '../sensed-words.ts'
import { useHub, useNow } from '../hub-context.tsx'
import { CopyLine } from '../parts/copy-line.tsx'
import { GardenForm } from '../parts/garden-form.tsx'
import { Link } from '../parts/link.tsx'
import { said, say } from '../say.ts'
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
        <span class="step-title">{title}</span>
        {state === 'done' && <span class="step-done"> {say`done`}</span>}
      </h2>
      {children}
    </li>
  )
}

/** The newest of a probe, as it comes in. */
function Heard({ probe }: { probe: ProbeView }) {
  const { garden } = useHub()
  const now = useNow()
  const newest = probe.channels.flatMap(({ senses, name, unit, latest }) =>
    latest === null
      ? []
      : [
          `${senses === 'other' || senses === 'ph' ? name : said(SENSED_WORDS[senses])} ${senses === 'ph' ? upTo(latest, 2, garden.units) : sentWords(latest, unit, garden.units)}`,
        ],
  )
  return (
    <p class="heard" data-heard={probe.id}>
      <span class="id">{probe.id}</span> · {newest.join(' · ')}{' '}
      <span class="faint">{age(probe.lastSeenAt, now)}</span>
    </p>
  )
}

/** Leads an empty hub to its first bed, first spot and first reading. */
export function FirstSteps() {
  const { garden, beds, probes, health } = useHub()
  // A broker of one's own may be called otherwise out here, and lets in whom it knows.
  const builtIn = health?.broker.kind !== 'external'
  const { host, port } = brokerPlace(health?.broker.address ?? '', location.hostname)
  const bed = beds[0]
  const spot = bed?.spots[0]
  const own = probes.find((probe) => probe.adoptedAt !== null)
  const stranger = probes.find((probe) => probe.adoptedAt === null)
  const line = (n: number): string =>
    `mosquitto_pub -h ${host} -p ${port} -q 1 -t lm1/${own?.id ?? stranger?.id ?? 'sill1'}/up/r ` +
    `-m '{"b":1,"n":${n},"u":${5 + n},"v":{"ph":${n === 0 ? 6.42 : 6.44},"st":17.5}}'`
  const heard = probes.filter((probe) => probe.channels.some(({ latest }) => latest !== null))
  const step = bed === undefined ? 2 : spot === undefined ? 3 : own === undefined ? 4 : 5
  const state = (n: number): StepProps['state'] => (n < step ? 'done' : n === step ? 'now' : '')
  return (
    <section class="first-steps" aria-label={say`First steps`}>
      <p class="sentence">
        {say`A page with nothing on it yet. Five steps bring the first bed’s line onto the paper.`}
      </p>
      <ol>
        <Step title={say`The garden`} state={bed === undefined ? 'now' : 'done'}>
          <p>{say`Called “${garden.name}”, on the time of ${garden.zone}.`}</p>
          <details data-needs="change">
            <summary>{say`Change name, time zone, units or language`}</summary>
            <GardenForm garden={garden} />
          </details>
        </Step>
        <Step title={say`First bed`} state={state(2)}>
          <p>
            {say`Name it, say how large and how deep it is, what soil it holds and what grows in it.`}
          </p>
          {step === 2 && (
            <Link data-needs="change" to={{ page: 'new-bed' }} class="button main">
              {say`Add the first bed`}
            </Link>
          )}
        </Step>
        <Step title={say`First spot`} state={state(3)}>
          <p>
            {say`A spot is a place in the bed where a probe sits, such as “north end”. Two or three, apart from each other, say much more than one.`}
          </p>
          {bed !== undefined && step === 3 && (
            <Link to={{ page: 'bed', id: bed.id }} class="button main">
              {say`Add a spot to ${bed.name}`}
            </Link>
          )}
        </Step>
        <Step title={say`First reading`} state={state(4)}>
          <p>
            {builtIn
              ? say`Let a probe send, or play one yourself: this line, in a terminal on the hub’s own machine, is a reading. Probe ids are 3 to 23 lower-case letters and digits.`
              : say`Add a probe: it gets an id, a password and the place of the broker. What it sends shows here.`}
          </p>
          {builtIn && <CopyLine line={line(0)} />}
          <div aria-live="polite">
            {heard.map((probe) => (
              <Heard key={probe.id} probe={probe} />
            ))}
          </div>
          {(builtIn || stranger !== undefined) && (
            <p>
              {stranger !== undefined
                ? say`${stranger.id} has spoken: take it in, at the top of this page.`
                : own === undefined
                  ? say`As soon as it has spoken, it is offered on this page to be taken in.`
                  : say`The next line is the next reading:`}
            </p>
          )}
          {builtIn && heard.length > 0 && <CopyLine line={line(1)} />}
          {step === 4 && (
            <p data-needs="change">
              {builtIn && <>{say`From the network a probe needs a password.`} </>}
              <Link to={{ page: 'probes' }}>{say`Add a probe with a password of its own`}</Link>
            </p>
          )}
        </Step>
        <Step title={say`Put the probe in its spot`} state={state(5)}>
          <p>
            {say`On the probe’s page: say where it sits and enter its calibration; until then the electrode is taken for an ideal one, with a wide doubt.`}
          </p>
          {own !== undefined && step === 5 && (
            <Link to={{ page: 'probe', id: own.id }} class="button main">
              {say`Place ${own.name}`}
            </Link>
          )}
        </Step>
      </ol>
    </section>
  )
}
