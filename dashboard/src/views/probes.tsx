import { useState } from 'preact/hooks'
import { api } from '../api.ts'
import { age } from '../format.ts'
import { useHub, useNow } from '../hub-context.tsx'
import { Field, Form, FormProblem, useSend } from '../parts/field.tsx'
import { Link } from '../parts/link.tsx'
import { StrangerStrip } from '../parts/stranger-strip.tsx'
import { batteryWords, probeStateWords } from '../probe-words.ts'
import { errorFor } from '../problem.ts'
import { go } from '../use-route.ts'

/** Names a probe before it has spoken. */
function NewProbe() {
  const { refresh } = useHub()
  const [id, setId] = useState('')
  const [name, setName] = useState('')
  const { problem, busy, send } = useSend()
  return (
    <section class="sheet" aria-labelledby="new-probe">
      <h2 id="new-probe">Take in a probe by hand</h2>
      <p class="sentence">
        A probe that sends is offered here by itself. If you already know the id in its firmware,
        you can enter it beforehand.
      </p>
      <Form
        label="New probe"
        busy={busy}
        submit="Take it in"
        onSubmit={() =>
          send(async () => {
            const probe = await api.addProbe({ id: id.trim(), name })
            await refresh('probes')
            go({ page: 'probe', id: probe.id })
          })
        }
      >
        <FormProblem problem={problem} fields={['id', 'name']} />
        <div class="fields">
          <Field
            label="Probe id"
            value={id}
            onInput={setId}
            hint="3 to 23 lower-case letters and digits, a letter first"
            error={errorFor(problem, 'id')}
          />
          <Field
            label="Name"
            value={name}
            onInput={setName}
            hint="empty: its id is its name"
            error={errorFor(problem, 'name')}
          />
        </div>
      </Form>
    </section>
  )
}

/** All probes, strangers first. */
export function ProbesView() {
  const { probes, garden, loaded } = useHub()
  const now = useNow()
  if (!loaded) return <p class="quiet-line">Fetching the probes …</p>
  const strangers = probes.filter((probe) => probe.adoptedAt === null)
  const own = probes.filter((probe) => probe.adoptedAt !== null)
  return (
    <>
      <div class="page-head">
        <h1>Probes</h1>
      </div>
      {strangers.map((probe) => (
        <StrangerStrip key={probe.id} probe={probe} />
      ))}
      <section class="sheet" aria-label="Probes taken in">
        {own.length === 0 ? (
          <p class="sentence">No probe has been taken in yet.</p>
        ) : (
          <table class="stack">
            <thead>
              <tr>
                <th scope="col">Probe</th>
                <th scope="col">Sits in</th>
                <th scope="col">Last reading</th>
                <th scope="col">State</th>
                <th scope="col">Battery</th>
              </tr>
            </thead>
            <tbody>
              {own.map((probe) => (
                <tr key={probe.id} data-probe={probe.id}>
                  <td>
                    <Link to={{ page: 'probe', id: probe.id }}>{probe.name}</Link>{' '}
                    {probe.name !== probe.id && <span class="id faint">{probe.id}</span>}
                  </td>
                  <td data-label="Sits in">
                    {probe.bedId === null || probe.bed === null ? (
                      <span class="faint">no spot</span>
                    ) : (
                      <>
                        <Link to={{ page: 'bed', id: probe.bedId }}>{probe.bed}</Link>, {probe.spot}
                      </>
                    )}
                  </td>
                  <td data-label="Last reading">{age(probe.lastSeenAt, now)}</td>
                  <td data-label="State">{probeStateWords(probe, now)}</td>
                  <td data-label="Battery">{batteryWords(probe, garden.units)}</td>
                </tr>
              ))}
            </tbody>
          </table>
        )}
      </section>
      <NewProbe />
    </>
  )
}
