import { useMemo, useState } from 'preact/hooks'
import type { Alarm } from '../../../hub/api/schemas/alarm.ts'
import type { BedView } from '../../../hub/api/schemas/bed.ts'
import type { Entry } from '../../../hub/api/schemas/journal.ts'
import type { Quantity } from '../../../hub/model/quantity.ts'
import { api } from '../api.ts'
import { BedChart } from '../chart/bed-chart.tsx'
import { chartColumns } from '../chart/columns.ts'
import type { EventMark } from '../chart/paint-findings.ts'
import type { Fan } from '../chart/paint-fan.ts'
import { AHEAD, RANGES, RANGE_WORDS } from '../chart/range.ts'
import { moved, refetchMs, zoomed } from '../chart/range-moves.ts'
import type { Range, RangeName } from '../chart/range.ts'
import { ALARM_CHARTS, dateTime, localeOf } from '../format.ts'
import { useHub, useLoad } from '../hub-context.tsx'
import type { Loaded } from '../hub-context.tsx'
import { shownAs } from '../quantity.ts'
import { said, say } from '../say.ts'
import { useSettled } from '../use-settled.ts'
import { useThrottled } from '../use-throttled.ts'
import { timeTicks } from '../zone.ts'
import { bedLegend, bedMarks, bedTable } from './bed-figure.ts'
import { bedSummary } from './bed-summary.ts'
import { DamagedNote, NO_DAMAGE } from './damaged-note.tsx'
import { Choices } from './field.tsx'
import { ChartFigure } from './figure/chart-figure.tsx'
import { readingWords, Readout } from './readout.tsx'
import type { Charted } from './readout.tsx'

const DAY = 86_400_000
const HEIGHTS: Readonly<Record<Quantity, number>> = { ph: 330, moisture: 170, temperature: 160 }
/** Enough that five years are drawn day by day: what is not drawn cannot hide an extreme. */
const POINTS = 2000
/** Enough for a month of readings, four an hour. */
const RAW_POINTS = 5000
/** A month is the most that is drawn reading by reading; beyond, steps show their lowest and highest. */
const RAW_DAYS = 35
/** Nothing is fetched while a finger still moves the paper. */
const REST_MS = 180
const NONE: readonly EventMark[] = []

interface BedChartsProps {
  readonly bed: BedView
  readonly name: RangeName | null
  readonly range: Range
  readonly latest: number
  readonly onName: (name: RangeName) => void
  readonly onRange: (range: Range, goesOn?: boolean) => void
  readonly onBack: () => void
  readonly onReset: () => void
  readonly isZoomed: boolean
  readonly journal: readonly Entry[]
  readonly alarms: readonly Alarm[]
  readonly highlighted: Entry | null
  readonly events: readonly EventMark[]
  readonly litEvent: string | null
  /** What lies ahead; null when it cannot be told. */
  readonly fan: Fan | null
  readonly ahead: boolean
  readonly onAhead: (ahead: boolean) => void
  readonly now: number
}

/** The bed's quantities on one time axis, with one cursor and one zoom. */
export function BedCharts(props: BedChartsProps) {
  const { bed, range, journal, alarms } = props
  const { garden, bedTicks, connection } = useHub()
  const [spots, setSpots] = useState(false)
  const [readings, setReadings] = useState(false)
  const [warmth, setWarmth] = useState(false)
  const [cursor, setCursor] = useState<number | null>(null)
  const tick = useThrottled(bedTicks[bed.id] ?? 0, refetchMs(range))
  const asked = useSettled(range, REST_MS)
  const raw = readings && asked.to - asked.from <= RAW_DAYS * DAY
  const key = `${bed.id} ${asked.from} ${asked.to} ${spots || raw} ${raw}`
  const fetched = (quantity: Quantity, wanted: boolean) =>
    useLoad(
      wanted ? `${quantity} ${key}` : null,
      (signal) => {
        const points = raw ? RAW_POINTS : POINTS
        return api.series(bed.id, { quantity, ...asked, points, spots: spots || raw }, signal)
      },
      // Away and back again asks once more; the first connection does not.
      `${tick} ${connection === 'lost'}`,
    )
  const ph = fetched('ph', true)
  const moisture = fetched('moisture', true)
  const temperature = fetched('temperature', warmth)
  const charted = (
    quantity: Quantity,
    loaded: Loaded<Awaited<ReturnType<typeof api.series>>>,
  ): Charted => {
    const as = useMemo(() => shownAs(quantity, garden.units), [quantity])
    const columns = useMemo(
      () => chartColumns(loaded.data, { ...range, present: bed[quantity], shown: as.shown }),
      [loaded.data, range, bed[quantity], as],
    )
    return { columns, as }
  }
  const charts: Record<Quantity, Charted> = {
    ph: charted('ph', ph),
    moisture: charted('moisture', moisture),
    temperature: charted('temperature', temperature),
  }
  const shown: readonly Quantity[] = warmth ? ['ph', 'moisture', 'temperature'] : ['ph', 'moisture']
  const narrow = matchMedia('(max-width: 760px)').matches
  const ticks = useMemo(
    () =>
      timeTicks(range.from, range.to, {
        zone: garden.zone,
        locale: localeOf(garden.units),
        most: narrow ? 4 : 10,
      }),
    [range, garden.zone, garden.units, narrow],
  )
  const alarmTimes = useMemo(() => {
    const of = (quantity: Quantity): number[] =>
      alarms
        .filter((a) => ALARM_CHARTS[a.kind] === quantity)
        .map((a) => a.evidence.since ?? a.raisedAt)
    return { ph: of('ph'), moisture: of('moisture'), temperature: of('temperature') }
  }, [alarms])
  const marks = useMemo(
    () => bedMarks({ journal, alarms, events: props.events }, garden),
    [journal, alarms, props.events, garden],
  )
  const litOnset = props.events.find(({ id }) => id === props.litEvent)?.onset
  const cursorAt = props.highlighted?.at ?? litOnset ?? null
  // Every range reaches a sliver past the present; that alone is no forecast.
  const aheadShown = range.to - props.now > 2 * AHEAD * (range.to - range.from)
  const leftOutNow = bed.spots.filter((spot) => spot.leftOut !== null)
  const damaged =
    [moisture, ph].find((l) => l.data?.damaged !== undefined)?.data?.damaged ?? NO_DAMAGE
  const trouble = [ph, moisture, temperature].find((l) => l.problem !== null)?.problem ?? null
  const tickBox = (words: string, is: boolean, set: (is: boolean) => void) => (
    <label class="tick">
      <input type="checkbox" checked={is} onChange={(e) => set(e.currentTarget.checked)} />
      {words}
    </label>
  )
  return (
    <section class="sheet" id="trend" aria-label={say`Trend`} data-testid="bed-charts">
      <div class="chart-tools">
        <Choices
          legend={say`Time shown`}
          value={props.name}
          options={RANGES.map((value) => ({ value, words: said(RANGE_WORDS[value]) }))}
          onChange={props.onName}
        />
        <div class="steps" role="group" aria-label={say`Move and zoom`}>
          <button type="button" onClick={() => props.onRange(moved(range, -0.5, props.latest))}>
            {say`Earlier`}
          </button>
          <button type="button" onClick={() => props.onRange(moved(range, 0.5, props.latest))}>
            {say`Later`}
          </button>
          <button type="button" onClick={() => props.onRange(zoomed(range, 0.5))}>
            {say`Closer`}
          </button>
          <button type="button" onClick={() => props.onRange(zoomed(range, 2))}>
            {say`Wider`}
          </button>
          {props.isZoomed && (
            <button type="button" onClick={props.onBack}>
              {say`Back`}
            </button>
          )}
        </div>
        {tickBox(say`Each spot`, spots, setSpots)}
        {tickBox(say`Every reading`, readings, setReadings)}
        {tickBox(say`Temperature`, warmth, setWarmth)}
        {props.fan !== null && tickBox(say`Look ahead`, props.ahead, props.onAhead)}
      </div>
      {trouble !== null && (
        <p class="error" role="alert">
          {say`The trend could not be fetched: ${trouble.detail ?? trouble.title}.`}
        </p>
      )}
      {shown.map((quantity, i) => {
        const chart = charts[quantity]
        const fan = quantity === 'ph' && aheadShown ? props.fan : null
        return (
          <ChartFigure
            key={quantity}
            name={chart.as.words}
            unit={chart.as.unit}
            of={bed.name}
            summary={bedSummary(chart, range, garden)}
            note={
              quantity === 'moisture'
                ? say`per cent of the probes' own dry-to-wet range, or by volume where a probe reports that`
                : undefined
            }
            legend={bedLegend(quantity, chart, {
              readings,
              ahead: fan !== null,
              damaged: damaged.length > 0,
            })}
            table={() => bedTable(chart, range, garden)}
          >
            <BedChart
              quantity={quantity}
              name={chart.as.words}
              read={(at) => `${dateTime(at, garden)}: ${readingWords(chart, at, garden.units)}`}
              columns={chart.columns}
              range={range}
              ticks={ticks}
              band={quantity === 'ph' ? bed.band.band : null}
              journal={journal}
              alarmTimes={alarmTimes[quantity]}
              highlighted={props.highlighted?.id ?? null}
              events={quantity === 'ph' ? props.events : NONE}
              litEvent={props.litEvent}
              fan={fan}
              damaged={damaged}
              now={props.now}
              cursorAt={quantity === 'ph' ? cursorAt : null}
              marks={marks[quantity]}
              readings={raw ? 'dots' : readings ? 'steps' : 'none'}
              units={garden.units}
              height={narrow && quantity === 'ph' ? 260 : HEIGHTS[quantity]}
              labelled={i === shown.length - 1 || quantity === 'ph'}
              rightPx={spots || raw ? (narrow ? 62 : 92) : 14}
              isZoomed={props.isZoomed}
              onZoom={props.onRange}
              onReset={props.onReset}
              onCursor={setCursor}
            />
          </ChartFigure>
        )
      })}
      <DamagedNote stretches={damaged} />
      <Readout at={cursor} charts={shown.map((quantity) => charts[quantity])} />
      {readings && !raw && (
        <p class="faint">
          {say`So much time is drawn in steps: an upright reaches from the lowest to the highest single reading of each. Up to a month is drawn reading by reading.`}
        </p>
      )}
      {(spots || raw) && leftOutNow.length > 0 && (
        <p class="faint">
          {say`Drawn faint and dotted, because left out of the bed’s value: ${leftOutNow
            .map((spot) => say`${spot.spot} now (${spot.leftOut ?? ''})`)
            .join('; ')}; earlier stretches for the same kinds of reason.`}
        </p>
      )}
    </section>
  )
}
