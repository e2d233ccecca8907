import { useEffect } from 'preact/hooks'
import type { BufferSet } from '../../../hub/api/schemas/garden.ts'
import type { ProbeView as Probe } from '../../../hub/api/schemas/probe.ts'
import { api } from '../api.ts'
import { emptyGuide } from '../guide-draft.ts'
import { useHub, useLoad, useNow } from '../hub-context.tsx'
import { ElectrodeGuide } from '../parts/calibrate/electrode-guide.tsx'
import { MoistureGuide } from '../parts/calibrate/moisture-guide.tsx'
import { CalibrationCaution } from '../parts/caution.tsx'
import { Choices } from '../parts/field.tsx'
import { Confirm } from '../parts/form.tsx'
import { Link } from '../parts/link.tsx'
import { say } from '../say.ts'
import { useKept } from '../use-kept.ts'
import { go } from '../use-route.ts'
import '../parts/measure/measure.css'

const PROBE_EVERY_MS = 10_000

/** Calibrates one probe, step by step, beside the buffers. */
export function CalibrateView({ id }: { id: string }) {
  const { loaded, probeTick } = useHub()
  const now = useNow(PROBE_EVERY_MS)
  const probe = useLoad(
    loaded ? id : null,
    (signal) => api.probe(id, signal),
    `${probeTick} ${Math.floor(now / PROBE_EVERY_MS)}`,
  )
  const buffers = useLoad('buffers', api.buffers)
  if (probe.data !== null && buffers.data !== null) {
    return <Guide probe={probe.data} sets={buffers.data} />
  }
  const problem = probe.problem ?? buffers.problem
  return problem === null ? (
    <p class="quiet-line">{say`Fetching the probe …`}</p>
  ) : (
    <>
      <h1 class="id">{id}</h1>
      <p class="sentence">
        {problem.status === 404 ? say`No probe of this id has spoken yet.` : problem.title}{' '}
        <Link to={{ page: 'probes' }}>{say`Back to the probes`}</Link>
      </p>
    </>
  )
}

function Guide({ probe, sets }: { probe: Probe; sets: readonly BufferSet[] }) {
  const { refresh } = useHub()
  const channels = [
    ...probe.channels.filter((c) => c.senses === 'ph.emf'),
    ...probe.channels.filter((c) => c.senses === 'moist.raw'),
  ]
  const begin = emptyGuide(channels[0]?.name ?? '', sets[0])
  const [draft, setDraft, forget] = useKept(`loamline calibrate ${probe.id}`, begin)
  const channel = channels.find(({ name }) => name === draft.channel)
  const lost = channel === undefined && channels.length > 0
  useEffect(() => {
    // What was kept names a channel that the probe no longer has.
    if (lost) setDraft(begin)
  }, [lost])
  const stored = (): void => {
    forget()
    void refresh('probes', 'beds')
    go({ page: 'probe', id: probe.id })
  }
  return (
    <div data-calibrate={probe.id} class="guide-page">
      <header class="guide-head">
        <p class="crops">
          <Link to={{ page: 'probe', id: probe.id }}>{probe.name}</Link>
        </p>
        <h1>{say`Calibrate`}</h1>
      </header>
      {channel === undefined ? (
        <p class="sentence">{say`This probe has not sent an electrode or a raw moisture channel yet; there is nothing to calibrate.`}</p>
      ) : (
        <>
          {draft.startedAt === null ? (
            channels.length > 1 && (
              <Choices
                legend={say`What`}
                value={draft.channel}
                options={channels.map((c) => ({
                  value: c.name,
                  words: `${c.senses === 'ph.emf' ? say`pH electrode` : say`Moisture`} (${c.name})`,
                }))}
                onChange={(name) => setDraft(emptyGuide(name, sets[0]))}
              />
            )
          ) : (
            <p>
              <Confirm
                words={say`Begin anew`}
                ask={say`Give up what was taken so far?`}
                onYes={() => setDraft(emptyGuide(draft.channel, sets[0]))}
              />
            </p>
          )}
          {channel.senses === 'ph.emf' ? (
            <ElectrodeGuide
              probe={probe}
              sets={sets}
              draft={draft}
              onDraft={setDraft}
              onStored={stored}
            />
          ) : (
            <MoistureGuide probe={probe} draft={draft} onDraft={setDraft} onStored={stored} />
          )}
          <CalibrationCaution />
        </>
      )}
    </div>
  )
}
