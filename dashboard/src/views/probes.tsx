import { api } from '../api.ts'
import { age } from '../format.ts'
import { useHub, useLoad, useNow } from '../hub-context.tsx'
import { AddProbe } from '../parts/access/add-probe.tsx'
import { OverLimit } from '../parts/access/over-limit.tsx'
import { Link } from '../parts/link.tsx'
import { StrangerStrip } from '../parts/stranger-strip.tsx'
import {
  batteryWords,
  calibratedWords,
  lossWords,
  nextWords,
  probeStateWords,
  signalWords,
} from '../probe-words.ts'
import { say } from '../say.ts'

const LOSSES_MS = 60_000

/** All probes, strangers first. */
export function ProbesView() {
  const { probes, garden, loaded } = useHub()
  const now = useNow()
  // Losses change slowly, and counting them reads every boot of every probe.
  const losses = useLoad(
    loaded ? 'losses' : null,
    (signal) => api.losses(signal),
    Math.floor(now / LOSSES_MS),
  )
  if (!loaded) return <p class="quiet-line">{say`Fetching the probes …`}</p>
  const strangers = probes.filter((probe) => probe.adoptedAt === null)
  const own = probes.filter((probe) => probe.adoptedAt !== null)
  return (
    <>
      <div class="page-head">
        <h1>{say`Probes`}</h1>
      </div>
      {strangers.map((probe) => (
        <StrangerStrip key={probe.id} probe={probe} />
      ))}
      {probes.map((probe) => (
        <OverLimit key={probe.id} probe={probe} />
      ))}
      <section class="sheet" aria-label={say`Probes taken in`}>
        {own.length === 0 ? (
          <p class="sentence">
            {say`No probe has been taken in yet. One that sends is offered above; one that is still to be built gets its id and password below.`}
          </p>
        ) : (
          <div class="scroll">
            <table class="stack pairs">
              <thead>
                <tr>
                  <th scope="col">{say`Probe`}</th>
                  <th scope="col">{say`Sits in`}</th>
                  <th scope="col">{say`Last reading`}</th>
                  <th scope="col">{say`Next`}</th>
                  <th scope="col">{say`State`}</th>
                  <th scope="col">{say`Battery`}</th>
                  <th scope="col">{say`Signal`}</th>
                  <th scope="col">{say`Lost`}</th>
                  <th scope="col">{say`In buffers`}</th>
                </tr>
              </thead>
              <tbody>
                {own.map((probe) => (
                  <tr key={probe.id} data-probe={probe.id}>
                    <td>
                      <Link to={{ page: 'probe', id: probe.id }}>{probe.name}</Link>{' '}
                      {probe.name !== probe.id && <span class="id faint">{probe.id}</span>}
                    </td>
                    <td class="wide" data-label={say`Sits in`}>
                      {probe.bedId === null || probe.bed === null ? (
                        <span class="faint">{say`no spot`}</span>
                      ) : (
                        <>
                          <Link to={{ page: 'bed', id: probe.bedId }}>{probe.bed}</Link>,{' '}
                          {probe.spot}
                        </>
                      )}
                    </td>
                    <td data-label={say`Last reading`}>{age(probe.lastSeenAt, now)}</td>
                    <td data-label={say`Next`}>{nextWords(probe, now)}</td>
                    <td data-label={say`State`}>{probeStateWords(probe, now)}</td>
                    <td data-label={say`Battery`}>{batteryWords(probe, garden.units)}</td>
                    <td data-label={say`Signal`}>{signalWords(probe, garden.units)}</td>
                    <td data-label={say`Lost`}>
                      {lossWords(
                        losses.data?.find((one) => one.probe === probe.id) ?? null,
                        garden.units,
                      )}
                    </td>
                    <td data-label={say`In buffers`}>{calibratedWords(probe, now)}</td>
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
        )}
      </section>
      <AddProbe />
    </>
  )
}
