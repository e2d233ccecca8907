import { useContext, useEffect, useId, useMemo } from 'preact/hooks'
import type { SeasonReportView } from '../../../../hub/api/schemas/review.ts'
import { HUES } from '../../chart/palette.ts'
import { PicturePlace } from '../../chart/picture-place.ts'
import type { DrawAgain } from '../../chart/picture-place.ts'
import { dateOnly, localeOf, num } from '../../format.ts'
import type { Units } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { timeTicks } from '../../zone.ts'
import { ChartFigure } from '../figure/chart-figure.tsx'
import { tableOf } from '../figure/figure-table.ts'
import type { FigureTable } from '../figure/figure-table.ts'
import { drawSeason } from './season-picture.ts'
import { seasonShape } from './season-shape.ts'

const percent = (x: number): string => `${Math.round(x * 100) / 100}%`
/** Months that have room beneath the narrowest screen. */
const MOST_TICKS = 7
/** A label this near the right end would hang over it. */
const LAST_TICK = 95

/** A bed's pH over a period, drawn to stand still: the same on the screen and on paper. */
export function SeasonChart({ report }: { report: SeasonReportView }) {
  const { garden } = useHub()
  const { units, zone } = garden
  const hue = useId()
  const { from, to, samples, review, band } = report
  const shape = useMemo(
    () =>
      seasonShape(
        report,
        samples.map(({ ph }) => ph),
      ),
    [report],
  )
  const ticks = useMemo(
    () => timeTicks(from, to, { zone, locale: localeOf(units), most: MOST_TICKS }),
    [from, to, zone, units],
  )
  const inside = review.treatments.filter(({ at }) => at >= from && at < to)
  const words = [
    say`pH of ${report.bed} from ${dateOnly(from, garden)} to ${dateOnly(to - 1, garden)}`,
    band === null
      ? null
      : say`its band is ${num(band.low, 1, units)} to ${num(band.high, 1, units)}`,
    shape.line === '' ? say`no day has a value` : null,
  ].filter((part) => part !== null)
  const caption = [
    `${words[0] ?? ''}.`,
    shape.line === ''
      ? say`No day of this period has a value.`
      : say`The line is the bed day by day, the shade its 95 % interval, the stripe the band.`,
    inside.length > 0 ? say`▲ a treatment.` : '',
    samples.length > 0 ? say`✚ a sample.` : '',
  ]
    .filter((part) => part !== '')
    .join(' ')
  const draw = useMemo(
    () =>
      drawSeason(shape, {
        samples,
        treatments: inside,
        ticks,
        write: (ph) => num(ph, 1, units),
      }),
    [shape, ticks, units],
  )
  return (
    <div class="season-chart">
      <ChartFigure
        name="pH"
        unit=""
        of={report.bed}
        summary={caption}
        words="below"
        legend={[
          { sign: 'line', words: say`the bed` },
          { sign: 'shade', words: say`its 95 % interval` },
          { sign: 'band', words: say`crop band` },
          { sign: '▲', words: say`treatment` },
          { sign: '✚', words: say`sample` },
        ]}
        table={() => seasonTable(report, units)}
      >
        <DrawnBy draw={draw} />
        <div class="season-paper" role="img" aria-label={words.join('; ')}>
          <div class="season-y" aria-hidden="true">
            {shape.rules.map(({ ph, y }) => (
              <span key={ph} style={{ top: percent(y) }}>
                {num(ph, 1, units)}
              </span>
            ))}
          </div>
          <div class="season-plot">
            <svg viewBox="0 0 100 100" preserveAspectRatio="none" aria-hidden="true">
              <defs>
                <linearGradient
                  id={hue}
                  gradientUnits="userSpaceOnUse"
                  x1="0"
                  x2="0"
                  y1={shape.y(HUES[0][0])}
                  y2={shape.y(HUES[2][0])}
                >
                  {HUES.map(([ph, name]) => (
                    <stop
                      key={name}
                      offset={(ph - HUES[0][0]) / (HUES[2][0] - HUES[0][0])}
                      style={{ stopColor: `var(--${name})` }}
                    />
                  ))}
                </linearGradient>
              </defs>
              {shape.band !== null && (
                <rect
                  class="season-band"
                  x="0"
                  width="100"
                  y={shape.band.top}
                  height={shape.band.bottom - shape.band.top}
                />
              )}
              {shape.rules.map(({ ph, y }) => (
                <line key={ph} class="season-rule" x1="0" x2="100" y1={y} y2={y} />
              ))}
              {ticks.map(({ at }) => (
                <line
                  key={at}
                  class="season-rule"
                  x1={shape.x(at)}
                  x2={shape.x(at)}
                  y1="0"
                  y2="100"
                />
              ))}
              {shape.band !== null &&
                [shape.band.top, shape.band.bottom].map((y) => (
                  <line key={y} class="season-edge" x1="0" x2="100" y1={y} y2={y} />
                ))}
              {inside.map(({ at }) => (
                <line
                  key={at}
                  class="season-treated"
                  x1={shape.x(at)}
                  x2={shape.x(at)}
                  y1="0"
                  y2="100"
                />
              ))}
              <path class="season-shade" d={shape.shade} />
              <path class="season-line" d={shape.line} style={{ stroke: `url(#${hue})` }} />
            </svg>
            {samples.map(({ at, ph }) => (
              <span
                key={at}
                class="season-sample"
                aria-hidden="true"
                style={{ left: percent(shape.x(at)), top: percent(shape.y(ph)) }}
              >
                ✚
              </span>
            ))}
            {inside.map(({ at }) => (
              <span
                key={at}
                class="season-sign"
                aria-hidden="true"
                style={{ left: percent(shape.x(at)) }}
              >
                ▲
              </span>
            ))}
          </div>
          <div class="season-x" aria-hidden="true">
            {ticks
              .filter(({ at }) => shape.x(at) < LAST_TICK)
              .map(({ at, label, major }) => (
                <span key={at} class={major ? 'major' : ''} style={{ left: percent(shape.x(at)) }}>
                  {label}
                </span>
              ))}
          </div>
        </div>
      </ChartFigure>
    </div>
  )
}

/** Leaves with the figure how its picture is drawn. */
function DrawnBy({ draw }: { draw: DrawAgain }) {
  const place = useContext(PicturePlace)
  useEffect(() => {
    if (place !== null) place.current = draw
  }, [place, draw])
  return null
}

/** The season day by day. */
function seasonTable({ course }: SeasonReportView, units: Units): FigureTable {
  const n = (ph: number | null | undefined): string => num(ph, 2, units)
  return tableOf({
    caption: say`pH, newest first`,
    time: course.time,
    known: [course.value],
    decimals: 2,
    days: true,
    columns: [
      {
        head: say`Bed`,
        shown: (i) => n(course.value[i]),
        files: [{ head: 'pH', value: (i) => course.value[i] }],
      },
      {
        head: say`95 % interval`,
        shown: (i) => say`${n(course.low[i])} to ${n(course.high[i])}`,
        files: [
          { head: say`95 % interval from`, value: (i) => course.low[i] },
          { head: say`95 % interval to`, value: (i) => course.high[i] },
        ],
      },
    ],
  })
}
