import { useMemo } from 'preact/hooks'
import type { BedView } from '../../../../hub/api/schemas/bed.ts'
import type { Findings } from '../../../../hub/api/schemas/findings.ts'
import { api } from '../../api.ts'
import { FanChart } from '../../chart/fan-chart.tsx'
import type { Fan } from '../../chart/paint-fan.ts'
import { percent, withDoubt } from '../../doubt.ts'
import { causeBriefly } from '../../event-words.ts'
import { newerThanStudy } from '../../change-words.ts'
import { dateOnly, dateTime, localeOf, num, whole } from '../../format.ts'
import type { Units } from '../../format.ts'
import { leavesRows } from '../../leaves-rows.ts'
import { useHub, useLoad } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { timeTicks } from '../../zone.ts'
import { ChartFigure } from '../figure/chart-figure.tsx'
import { tableOf } from '../figure/figure-table.ts'
import type { ChartColumn, FigureTable } from '../figure/figure-table.ts'
import { Facts, Finding, NotYet } from './finding.tsx'

const HOUR = 3_600_000
const DAY = 24 * HOUR
/** How much of the past stands before the fan. */
const BACK_DAYS = 90

/** The fan day by day. */
function fanTable(fan: Fan, units: Units): FigureTable {
  const n = (x: number | null | undefined): string => num(x, 2, units)
  const between = (
    head: string,
    [low, high]: readonly [(number | null)[], (number | null)[]],
  ): ChartColumn => ({
    head,
    shown: (i) => say`${n(low[i])} to ${n(high[i])}`,
    files: [
      { head: say`${head}: from`, value: (i) => low[i] },
      { head: say`${head}: to`, value: (i) => high[i] },
    ],
  })
  return tableOf({
    caption: say`pH of the bed as it may come`,
    time: fan.time,
    known: [fan.q50],
    decimals: 2,
    days: true,
    columns: [
      {
        head: say`Middle`,
        shown: (i) => n(fan.q50[i]),
        files: [{ head: say`Middle`, value: (i) => fan.q50[i] }],
      },
      between(say`1 in 2`, [fan.q25, fan.q75]),
      between(say`9 in 10`, [fan.q05, fan.q95]),
    ],
  })
}

function FanFigure({ bed, fan, at }: { bed: BedView; fan: Fan; at: number }) {
  const { garden } = useHub()
  // Findings come anew every minute; the past beneath them is fetched again once an hour.
  const now = Math.ceil(at / HOUR) * HOUR
  const last = fan.time.at(-1) ?? now
  const range = useMemo(
    () => ({ from: now - BACK_DAYS * DAY, to: last + (last - now) * 0.02 }),
    [now, last],
  )
  const series = useLoad(`fan ${bed.id} ${now}`, (signal) =>
    api.series(
      bed.id,
      { quantity: 'ph', from: range.from, to: now + DAY, points: 240, spots: false },
      signal,
    ),
  )
  const narrow = matchMedia('(max-width: 760px)').matches
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
      name={say`What lies ahead`}
      unit="pH"
      of={bed.name}
      summary={say`the last ${BACK_DAYS} days as a line; what may come as a broken middle line, the inner shade holds it 1 time in 2, the whole shade 9 times in 10`}
      legend={[
        { sign: 'line', words: say`the bed` },
        { sign: 'broken', words: say`what may come` },
        { sign: 'shade', words: say`where it may come to lie` },
        { sign: 'band', words: say`crop band` },
      ]}
      table={() => fanTable(fan, garden.units)}
    >
      <FanChart
        series={series.data}
        present={bed.ph}
        fan={fan}
        now={now}
        band={fan.band}
        range={range}
        ticks={ticks}
        units={garden.units}
        zone={garden.zone}
        name={say`What lies ahead`}
      />
    </ChartFigure>
  )
}

function outsideWords(
  {
    side,
    from,
    to,
  }: { readonly side: 'below' | 'above'; readonly from: number; readonly to: number },
  day: (at: number) => string,
  days: (n: number) => string,
): string {
  const long = days((to - from) / DAY)
  return side === 'below'
    ? say`below, ${day(from)} to ${day(to)} (${long})`
    : say`above, ${day(from)} to ${day(to)} (${long})`
}

/** What the bed's pH may do, and how the year has been so far. */
export function Ahead({ bed, findings }: { bed: BedView; findings: Findings }) {
  const { garden } = useHub()
  const { forecast, inBand } = findings
  const { units } = garden
  const unknown = newerThanStudy(findings)
  const day = (at: number): string => dateOnly(at, garden)
  const days = (n: number): string =>
    Math.round(n) === 1 ? say`${whole(n, units)} day` : say`${whole(n, units)} days`
  return (
    <Finding id="ahead" title={say`What lies ahead`}>
      <p class="sentence">{forecast.sentence}</p>
      {unknown !== null && (
        <p>{say`This was gone through ${dateTime(findings.studiedAt ?? 0, garden)} and knows nothing yet of the change of ${dateTime(unknown.onset, garden)}: ${causeBriefly(unknown)}.`}</p>
      )}
      {forecast.status === 'ok' ? (
        <>
          <FanFigure bed={bed} fan={forecast} at={findings.at} />
          <Facts
            rows={[
              ...(forecast.band === null ? [] : leavesRows(forecast, day)),
              [
                say`Chance to be outside`,
                forecast.chances.length === 0
                  ? null
                  : forecast.chances
                      .map((c) => say`in ${whole(c.days, units)} days ${percent(c.outside, units)}`)
                      .join(', '),
              ],
            ]}
          />
        </>
      ) : (
        <NotYet {...forecast} />
      )}
      <h4>{say`Days within its band this year`}</h4>
      <p class="sentence">{inBand.sentence}</p>
      {inBand.status === 'ok' ? (
        <Facts
          rows={[
            [
              say`Inside`,
              say`${withDoubt(inBand.share, {
                value: (x) => num(x * 100, 0, units),
                width: (x) => num(x * 100, 0, units),
                unit: '%',
              })} of the known days since ${day(inBand.from)}`,
            ],
            [
              say`Days`,
              say`${whole(inBand.inside, units)} inside, ${whole(inBand.below, units)} below, ${whole(inBand.above, units)} above, ${whole(inBand.unknown, units)} not known`,
            ],
            [
              say`Longest outside`,
              inBand.longestOutside === null
                ? null
                : outsideWords(inBand.longestOutside, day, days),
            ],
          ]}
        />
      ) : (
        <NotYet {...inBand} />
      )}
    </Finding>
  )
}
