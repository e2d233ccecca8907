import { api } from '../api.ts'
import { dateOnly, num } from '../format.ts'
import { useHub, useLoad } from '../hub-context.tsx'
import { said, say } from '../say.ts'
import { VERDICT_WORDS } from './calibration-form.tsx'

/** How the electrodes of a probe aged, and when they want fresh buffers. */
export function ElectrodeHealth({ probe, tick }: { probe: string; tick: string }) {
  const { garden } = useHub()
  const { data, problem } = useLoad(
    `electrode ${probe}`,
    (signal) => api.electrodes(probe, signal),
    tick,
  )
  if (problem !== null) {
    return (
      <p class="error">{say`How the electrode fares could not be fetched: ${problem.title}`}</p>
    )
  }
  return (
    <div data-testid="electrode-health">
      {(data ?? []).map((electrode) => (
        <div key={electrode.channel}>
          <p class="sentence">
            {electrode.due ? <strong>{electrode.reminder}</strong> : electrode.reminder}
          </p>
          <p class="sentence">{electrode.sentence}</p>
          {electrode.rows.length > 1 && (
            <table class="stack">
              <caption>{say`${electrode.channel} by its calibrations, newest first`}</caption>
              <thead>
                <tr>
                  <th scope="col">{say`Since`}</th>
                  <th scope="col" class="n">{say`Slope, %`}</th>
                  <th scope="col" class="n">{say`At pH 7, mV`}</th>
                  <th scope="col">{say`Verdict`}</th>
                </tr>
              </thead>
              <tbody>
                {electrode.rows.toReversed().map((row) => (
                  <tr key={row.id}>
                    <td>{dateOnly(row.at, garden)}</td>
                    <td class="n" data-label={say`Slope, %`}>
                      {num(row.slopePercent, 1, garden.units)}
                    </td>
                    <td class="n" data-label={say`At pH 7, mV`}>
                      {num(row.offsetMv, 0, garden.units)}
                    </td>
                    <td data-label={say`Verdict`}>{said(VERDICT_WORDS[row.verdict])}</td>
                  </tr>
                ))}
              </tbody>
            </table>
          )}
        </div>
      ))}
    </div>
  )
}
