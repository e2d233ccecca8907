import { useState } from 'preact/hooks'
import type { CalibrationView, ProbeView as Probe } from '../../../hub/api/schemas/probe.ts'
import { api } from '../api.ts'
import { amount, dateTime, num, upTo } from '../format.ts'
import { useHub } from '../hub-context.tsx'
import { say, toSay } from '../say.ts'
import { saying } from '../saying.ts'
import { CalibrationForm, CheckWords } from './calibration-form.tsx'
import { ElectrodeHealth } from './electrode-health.tsx'
import { FormProblem, useSend } from './field.tsx'
import { Confirm } from './form.tsx'
import { Link } from './link.tsx'

function pointsWords(calibration: CalibrationView, units: 'metric' | 'us'): string {
  if (calibration.kind === 'moisture') {
    const soils = calibration.soilPoints.map(
      ({ raw, vwc }) => say`soil of ${num(100 * vwc, 1, units)} % at ${num(raw, 0, units)}`,
    )
    const ends = say`dry ${num(calibration.dryRaw, 0, units)}, wet ${num(calibration.wetRaw, 0, units)}`
    return [ends, ...soils].join(', ')
  }
  const points = calibration.points.map(
    (p) => say`pH ${upTo(p.ph, 3, units)} at ${num(p.emfMv, 1, units)} mV`,
  )
  const warmth =
    calibration.temperatureC === null
      ? []
      : [amount('temperature', calibration.temperatureC, units)]
  return [...points, ...warmth].join(', ')
}

/** Dated calibrations, what they are worth, and entering one. */
export function Calibrations({ probe, onChange }: { probe: Probe; onChange: () => void }) {
  const { garden } = useHub()
  const [editing, setEditing] = useState<number | 'new' | null>(null)
  const { problem, send } = useSend()
  const newestFirst = probe.calibrations.toSorted((a, b) => b.at - a.at)
  const done = (): void => {
    setEditing(null)
    onChange()
  }
  return (
    <section class="sheet" aria-labelledby="calibrations">
      <div class="section-head">
        <h2 id="calibrations">{say`Calibrations`}</h2>
        {editing === null && (
          <span class="buttons">
            <Link
              data-needs="change"
              to={{ page: 'calibrate', id: probe.id }}
              class="button main"
            >{say`Calibrate step by step`}</Link>
            <button
              data-needs="change"
              type="button"
              onClick={() => setEditing('new')}
            >{say`Enter a calibration`}</button>
          </span>
        )}
      </div>
      <p class="faint">{say`Each holds from its date until the next of the same channel, also for readings already stored.`}</p>
      <ElectrodeHealth
        probe={probe.id}
        tick={probe.calibrations.map(({ id, check }) => `${id} ${check.sentence}`).join()}
      />
      {editing === 'new' && <CalibrationForm probe={probe} calibration={null} onDone={done} />}
      <FormProblem problem={problem} fields={[]} />
      {newestFirst.length === 0 && (
        <p class="sentence">{say`None yet: until then the electrode is taken for an ideal one, with a wide doubt, and raw moisture says nothing.`}</p>
      )}
      <ul class="spot-list">
        {newestFirst.map((calibration) => (
          <li key={calibration.id}>
            <div class="section-head">
              <span>
                {saying(
                  toSay('{0} from {1}'),
                  <strong class="id">{calibration.channel}</strong>,
                  dateTime(calibration.at, garden),
                )}
              </span>
              <span>
                <button
                  data-needs="change"
                  type="button"
                  class="quiet"
                  aria-label={say`Change the calibration of ${calibration.channel} from ${dateTime(calibration.at, garden)}`}
                  onClick={() => setEditing(calibration.id)}
                >{say`Change`}</button>
                <Confirm
                  words={say`Remove`}
                  ask={say`Remove this calibration? Stored readings are read by the one before.`}
                  onYes={() =>
                    send(async () => {
                      await api.removeCalibration(calibration.id)
                      onChange()
                    })
                  }
                />
              </span>
            </div>
            <p class="faint">
              {pointsWords(calibration, garden.units)}
              {calibration.note !== '' && ` – ${calibration.note}`}
            </p>
            <CheckWords check={calibration.check} />
            {editing === calibration.id && (
              <CalibrationForm probe={probe} calibration={calibration} onDone={done} />
            )}
          </li>
        ))}
      </ul>
    </section>
  )
}
