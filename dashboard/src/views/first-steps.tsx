import { brokerPlace } from '../broker-place.ts'
import { useHub } from '../hub-context.tsx'
import { Link } from '../parts/link.tsx'

/** Leads an empty hub to its first bed, first spot and first reading. */
export function FirstSteps() {
  const { beds, probes, health } = useHub()
  const { host, port } = brokerPlace(health?.broker.address ?? '', location.hostname)
  const bed = beds[0]
  const spot = bed?.spots[0]
  const own = probes.find((probe) => probe.adoptedAt !== null)
  const line =
    `mosquitto_pub -h ${host} -p ${port} -t lm1/${own?.id ?? 'sill1'}/up/r ` +
    `-m '{"b":1,"n":0,"u":5,"v":{"phmv":12.4,"m1":1873,"st":18.2}}'`
  const step = bed === undefined ? 1 : spot === undefined ? 2 : own === undefined ? 3 : 4
  const mark = (n: number): string => (n < step ? 'done' : n === step ? 'now' : '')
  return (
    <section class="first-steps" aria-label="First steps">
      <p class="sentence">
        A page with nothing on it yet. Four steps bring the first bed&rsquo;s line onto the paper.
      </p>
      <ol>
        <li class={mark(1)}>
          <h2>First bed</h2>
          <p>Name it, say how large and how deep it is, what soil it holds and what grows in it.</p>
          {step === 1 && (
            <Link to={{ page: 'new-bed' }} class="button main">
              Add the first bed
            </Link>
          )}
        </li>
        <li class={mark(2)}>
          <h2>First spot</h2>
          <p>A spot is a place in the bed where a probe sits, such as &ldquo;north end&rdquo;.</p>
          {bed !== undefined && step === 2 && (
            <Link to={{ page: 'bed', id: bed.id }} class="button main">
              Add a spot to {bed.name}
            </Link>
          )}
        </li>
        <li class={mark(3)}>
          <h2>First reading</h2>
          <p>
            Let a probe send, or play one yourself on the hub&rsquo;s own machine. From the network
            a probe needs a password, which the page of probes makes. Probe ids are 3 to 23
            lower-case letters and digits.
          </p>
          <pre class="command">
            <code>{line}</code>
          </pre>
          <p>As soon as it has spoken, it is offered on this page to be taken in.</p>
        </li>
        <li class={mark(4)}>
          <h2>Put the probe in its spot</h2>
          <p>
            On the probe&rsquo;s page: say where it sits and enter its calibration; until then the
            electrode is taken for an ideal one, with a wide doubt.
          </p>
          {own !== undefined && step === 4 && (
            <Link to={{ page: 'probe', id: own.id }} class="button main">
              Place {own.name}
            </Link>
          )}
        </li>
      </ol>
    </section>
  )
}
