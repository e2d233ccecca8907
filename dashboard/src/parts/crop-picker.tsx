import { useMemo, useState } from 'preact/hooks'
import type { Crop } from '../../../hub/api/schemas/garden.ts'
import { commonBand } from '../bed-draft.ts'
import { num } from '../format.ts'
import { useHub } from '../hub-context.tsx'
import { say } from '../say.ts'
import { Field } from './field.tsx'

/** Where a crop's band comes from. */
function Sources({ crop }: { crop: Crop }) {
  const { garden } = useHub()
  const n = (x: number | null): string => num(x, 1, garden.units)
  return (
    <details>
      <summary class="faint">
        {say`sources`}
        <span class="unseen"> ({crop.name})</span>
      </summary>
      <p class="faint">{crop.basis}</p>
      <ul class="sources">
        {crop.published.map((row, i) => (
          <li key={i}>
            {say`${n(row.low)} to ${n(row.high)}: ${row.source.publisher}`},{' '}
            {row.source.url !== null && /^https?:\/\//.test(row.source.url) ? (
              <a href={row.source.url} rel="noreferrer" target="_blank">
                {row.source.title}
              </a>
            ) : (
              row.source.title
            )}
            {row.source.year !== null && `, ${row.source.year}`}
            {row.group && ` ${say`(about a group of crops)`}`}
            {row.note !== '' && ` – ${row.note}`}
          </li>
        ))}
      </ul>
    </details>
  )
}

interface CropPickerProps {
  readonly crops: readonly Crop[]
  readonly chosen: readonly string[]
  readonly onChange: (chosen: string[]) => void
}

/** Crops to tick, found by typing; with the band that is left for all of them. */
export function CropPicker({ crops, chosen, onChange }: CropPickerProps) {
  const { garden } = useHub()
  const [sought, setSought] = useState('')
  const found = useMemo(() => {
    const words = sought.toLowerCase().split(/\s+/).filter(Boolean)
    const hits = crops.filter((crop) => {
      const text = `${crop.name} ${crop.slug} ${crop.category}`.toLowerCase()
      return words.every((word) => text.includes(word))
    })
    // Chosen ones stay in sight whatever is sought.
    return [
      ...crops.filter((crop) => chosen.includes(crop.slug)),
      ...hits.filter((crop) => !chosen.includes(crop.slug)),
    ]
  }, [crops, chosen, sought])
  const n = (x: number): string => num(x, 1, garden.units)
  const picked = crops.filter((crop) => chosen.includes(crop.slug))
  const common = commonBand(picked.map((crop) => crop.band))
  return (
    <fieldset class="field wide">
      <legend>{say`Crops`}</legend>
      <Field label={say`Find a crop`} value={sought} onInput={setSought} />
      <div class="crop-list" tabIndex={-1}>
        {found.map((crop) => (
          <div key={crop.slug}>
            <label>
              <input
                type="checkbox"
                checked={chosen.includes(crop.slug)}
                onChange={(event) =>
                  onChange(
                    event.currentTarget.checked
                      ? [...chosen, crop.slug]
                      : chosen.filter((slug) => slug !== crop.slug),
                  )
                }
              />
              <span>
                {crop.name}{' '}
                <span class="faint">{say`pH ${n(crop.band.low)} to ${n(crop.band.high)}`}</span>
              </span>
            </label>
            <Sources crop={crop} />
          </div>
        ))}
        {found.length === 0 && <p class="faint">{say`No crop of that name in the table.`}</p>}
      </div>
      <p class="sentence" aria-live="polite">
        {picked.length === 0
          ? say`Without crops there is no band to hold the bed against, unless you give your own.`
          : common === null
            ? say`These crops share no pH: no band suits them all. Part them, or give your own band.`
            : say`For ${picked.map((crop) => crop.name).join(', ')} together: pH ${n(common.low)} to ${n(common.high)}.`}
      </p>
    </fieldset>
  )
}
