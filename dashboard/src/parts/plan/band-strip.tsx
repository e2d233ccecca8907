import type { NeedView } from '../../../../hub/api/schemas/planning.ts'
import { withDoubt, phWriter } from '../../doubt.ts'
import { num } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { bandStripShape } from './band-strip-shape.ts'
import { Sources } from './sources.tsx'

const PAPER_PX = 64
const LINE_PX = 7

/** Where the bed is against its band, and against what each publication says, on a strip of paper. */
export function BandStrip({ need }: { readonly need: NeedView }) {
  const { garden } = useHub()
  const { units } = garden
  const shape = bandStripShape(need)
  if (shape === null) return null
  const n = (ph: number | null): string => num(ph, 1, units)
  const { band, ph, target } = need
  const words = [
    ph === null
      ? say`The pH of the bed is not known`
      : say`The bed: pH ${withDoubt(ph, phWriter(units))}`,
    band === null ? say`no band` : say`its band: ${n(band.low)} to ${n(band.high)}`,
    ...(target === null ? [] : [say`aim: ${num(target, 2, units)}`]),
  ].join('; ')
  const lines = PAPER_PX + 8
  const foot = lines + shape.published.length * LINE_PX + 4
  return (
    <figure class="band-strip">
      <svg role="img" aria-label={words} height={foot + 20}>
        <rect class="paper" x="0" y="0" width="100%" height={foot} />
        {shape.band !== null && (
          <rect
            class="band"
            x={`${shape.band.left}%`}
            y="0"
            width={`${shape.band.right - shape.band.left}%`}
            height={PAPER_PX}
          />
        )}
        <text x="0" y={foot + 14}>{say`pH`}</text>
        {shape.ticks.map(({ ph: at, x }) => (
          <g key={at}>
            <line class="rule" x1={`${x}%`} x2={`${x}%`} y1="0" y2={foot} />
            {Number.isInteger(at) && x > 8 && x < 98 && (
              <text x={`${x}%`} y={foot + 14} text-anchor="middle">
                {num(at, 0, units)}
              </text>
            )}
          </g>
        ))}
        {shape.published.map(({ crop, publisher, left, right }, i) => (
          <line
            key={`${crop} ${publisher} ${i}`}
            class="published"
            x1={`${left}%`}
            x2={`${right}%`}
            y1={lines + i * LINE_PX}
            y2={lines + i * LINE_PX}
          />
        ))}
        {shape.target !== null && (
          <g class="aim">
            <line x1={`${shape.target}%`} x2={`${shape.target}%`} y1="16" y2={PAPER_PX} />
            <text
              x={`${shape.target}%`}
              y="12"
              text-anchor={shape.target > 90 ? 'end' : 'middle'}
            >{say`aim`}</text>
          </g>
        )}
        {shape.value !== null && (
          <g class="bed-value">
            <line
              x1={`${shape.value.left}%`}
              x2={`${shape.value.right}%`}
              y1={PAPER_PX / 2 + 6}
              y2={PAPER_PX / 2 + 6}
            />
            <circle cx={`${shape.value.x}%`} cy={PAPER_PX / 2 + 6} r="5.5" />
          </g>
        )}
      </svg>
      <figcaption class="faint">{say`Stripe: the band the bed is held against. Thin lines: what each publication says. Dot and bar: the bed, with its 95 % interval.`}</figcaption>
      {need.crops.length > 0 && (
        <details>
          <summary>{say`Who publishes which band`}</summary>
          <div class="scroll">
            <table class="stack">
              <caption>{need.bandSentence}</caption>
              <thead>
                <tr>
                  <th scope="col">{say`Crop`}</th>
                  <th scope="col">{say`pH`}</th>
                  <th scope="col">{say`Published by`}</th>
                </tr>
              </thead>
              <tbody>
                {need.crops.flatMap(({ name, published }) =>
                  published.map(({ low, high, group, source }, i) => (
                    <tr key={`${name} ${source.id} ${i}`}>
                      <td>
                        {name}
                        {group && <span class="faint">{say`, said of its group`}</span>}
                      </td>
                      <td class="figures">
                        {low === null
                          ? say`up to ${n(high)}`
                          : high === null
                            ? say`from ${n(low)}`
                            : say`${n(low)} to ${n(high)}`}
                      </td>
                      <td>
                        <Sources sources={[source]} />
                      </td>
                    </tr>
                  )),
                )}
              </tbody>
            </table>
          </div>
        </details>
      )}
    </figure>
  )
}
