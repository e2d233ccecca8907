import { useMemo } from 'preact/hooks'
import { localeOf, num } from '../../format.ts'
import type { Units } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { timeTicks } from '../../zone.ts'
import { ChartFigure } from '../figure/chart-figure.tsx'
import { tableOf } from '../figure/figure-table.ts'
import type { FigureTable } from '../figure/figure-table.ts'
import { CourseChart, measuredAt } from './course-chart.tsx'
import type { CourseChartProps } from './course-chart.tsx'

type CourseFigureProps = Omit<CourseChartProps, 'range' | 'ticks' | 'units' | 'zone' | 'name'> & {
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
    <ChartFigure
      name={say`The course`}
      unit="pH"
      of={say`Plan`}
      summary={words}
      legend={[
        { sign: 'broken', words: say`as expected` },
        { sign: 'shade', words: say`between` },
        { sign: 'band', words: say`crop band` },
        ...(points === null ? [] : [{ sign: 'dots', words: say`measured day by day` } as const]),
        { sign: '▲', words: say`portion` },
        { sign: '✚', words: say`sample` },
      ]}
      table={() => courseTable(chart, garden.units)}
    >
      <CourseChart
        {...chart}
        range={range}
        ticks={ticks}
        units={garden.units}
        zone={garden.zone}
        name={say`The course`}
      />
    </ChartFigure>
  )
}

/** What is expected day by day, and what was measured about that day. */
function courseTable(
  { course, points }: Pick<CourseFigureProps, 'course' | 'points'>,
  units: Units,
): FigureTable {
  const n = (ph: number | null | undefined): string => num(ph, 2, units)
  const measured = (i: number): number | null =>
    points === null ? null : measuredAt(points, course.time[i] ?? 0)
  return tableOf({
    caption:
      points === null ? say`pH as expected` : say`pH as expected, and as measured about that day`,
    time: course.time,
    known: [course.typical],
    decimals: 2,
    days: true,
    columns: [
      {
        head: say`Expected`,
        shown: (i) => n(course.typical[i]),
        files: [{ head: say`Expected`, value: (i) => course.typical[i] }],
      },
      {
        head: say`Between`,
        shown: (i) => say`${n(course.low[i])} to ${n(course.high[i])}`,
        files: [
          { head: say`Between: from`, value: (i) => course.low[i] },
          { head: say`Between: to`, value: (i) => course.high[i] },
        ],
      },
      ...(points === null
        ? []
        : [
            {
              head: say`Measured`,
              shown: (i: number) => n(measured(i)),
              files: [{ head: say`Measured`, value: measured }],
            },
          ]),
    ],
  })
}
