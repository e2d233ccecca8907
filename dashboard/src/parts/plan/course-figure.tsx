import { useMemo } from 'preact/hooks'
import { nearest } from '../../chart/columns.ts'
import { dateOnly, localeOf, num } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { timeTicks } from '../../zone.ts'
import { CourseChart } from './course-chart.tsx'
import type { CourseChartProps } from './course-chart.tsx'

const DAY = 86_400_000
/** A point counts for a row of the table when it lies so near. */
const NEAR_MS = 4 * DAY
const ROWS = 12

type CourseFigureProps = Omit<CourseChartProps, 'range' | 'ticks' | 'units'> & {
  readonly words: string
}

/** The course of a plan with its summary in words and its numbers on demand. */
export function CourseFigure({ words, ...chart }: CourseFigureProps) {
  const { garden } = useHub()
  const { course, points } = chart
  const first = Math.min(course.time[0] ?? 0, points?.time[0] ?? Infinity)
  const last = Math.max(course.time.at(-1) ?? 0, points?.time.at(-1) ?? 0)
  const narrow = matchMedia('(max-width: 760px)').matches
  const range = useMemo(() => ({ from: first, to: last + (last - first) * 0.02 }), [first, last])
  const ticks = useMemo(
    () =>
      timeTicks(range.from, range.to, {
        zone: garden.zone,
        locale: localeOf(garden.units),
        most: narrow ? 4 : 9,
      }),
    [range, garden.zone, garden.units, narrow],
  )
  return (
    <figure>
      <figcaption>
        <strong>{say`pH`}</strong>
        <span class="faint">{words}</span>
      </figcaption>
      <CourseChart {...chart} range={range} ticks={ticks} units={garden.units} />
      <Numbers {...chart} />
    </figure>
  )
}

function Numbers({ course, points }: Pick<CourseFigureProps, 'course' | 'points'>) {
  const { garden } = useHub()
  const n = (ph: number | null | undefined): string => num(ph, 2, garden.units)
  const every = Math.max(1, Math.ceil(course.time.length / ROWS))
  const rows = course.time.flatMap((at, i) =>
    i % every === 0 || i === course.time.length - 1 ? [{ at, i }] : [],
  )
  const measuredAt = (at: number): number | null => {
    if (points === null) return null
    const i = nearest(points.time, at)
    return Math.abs((points.time[i] ?? -Infinity) - at) <= NEAR_MS
      ? (points.value[i] ?? null)
      : null
  }
  return (
    <details>
      <summary class="faint">{say`The course as numbers`}</summary>
      <div class="scroll">
        <table>
          <caption>
            {points === null
              ? say`pH as expected`
              : say`pH as expected, and as measured about that day`}
          </caption>
          <thead>
            <tr>
              <th scope="col">{say`Day`}</th>
              <th scope="col">{say`Expected`}</th>
              <th scope="col">{say`Between`}</th>
              {points !== null && <th scope="col">{say`Measured`}</th>}
            </tr>
          </thead>
          <tbody>
            {rows.map(({ at, i }) => (
              <tr key={at}>
                <td>{dateOnly(at, garden)}</td>
                <td>{n(course.typical[i])}</td>
                <td>{say`${n(course.low[i])} to ${n(course.high[i])}`}</td>
                {points !== null && <td>{n(measuredAt(at))}</td>}
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </details>
  )
}
