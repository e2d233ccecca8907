import { useMemo, useState } from 'preact/hooks'
import type { Alarm } from '../../../hub/api/schemas/alarm.ts'
import type { BedView } from '../../../hub/api/schemas/bed.ts'
import type { Entry } from '../../../hub/api/schemas/journal.ts'
import type { Quantity } from '../../../hub/model/quantity.ts'
import { api } from '../api.ts'
import { BedChart } from '../chart/bed-chart.tsx'
import { chartColumns } from '../chart/columns.ts'
import type { EventMark, Fan } from '../chart/paint-findings.ts'
import { AHEAD, moved, RANGES, RANGE_WORDS, refetchMs, zoomed } from '../chart/range.ts'
import type { Range, RangeName } from '../chart/range.ts'
import { ALARM_CHARTS, localeOf } from '../format.ts'
import { useHub, useLoad } from '../hub-context.tsx'
import type { Loaded } from '../hub-context.tsx'
import { shownAs } from '../quantity.ts'
import { useThrottled } from '../use-throttled.ts'
import { timeTicks } from '../zone.ts'
import { ChartFigure } from './chart-figure.tsx'
import { Choices } from './field.tsx'
import { Readout } from './readout.tsx'
import type { Charted } from './readout.tsx'

const HEIGHTS: Readonly<Record<Quantity, number>> = { ph: 330, moisture: 170, temperature: 160 }
const POINTS = 700
const NONE: readonly EventMark[] = []

interface BedChartsProps {
  readonly bed: BedView
  readonly name: RangeName | null
  readonly range: Range
  readonly latest: number
  readonly onName: (name: RangeName) => void
  readonly onRange: (range: Range) => void
  readonly onBack: () => void
  readonly canGoBack: boolean
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
  const [warmth, setWarmth] = useState(false)
  const [cursor, setCursor] = useState<number | null>(null)
  const tick = useThrottled(bedTicks[bed.id] ?? 0, refetchMs(range))
  const key = `${bed.id} ${range.from} ${range.to} ${spots}`
  const fetched = (quantity: Quantity, wanted: boolean) =>
    useLoad(
      wanted ? `${quantity} ${key}` : null,
      (signal) => api.series(bed.id, { quantity, ...range, points: POINTS, spots }, signal),
      `${tick} ${connection}`,
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
  const litOnset = props.events.find(({ id }) => id === props.litEvent)?.onset
  const cursorAt = props.highlighted?.at ?? litOnset ?? null
  // Every range reaches a sliver past the present; that alone is no forecast.
  const aheadShown = range.to - props.now > 2 * AHEAD * (range.to - range.from)
  const leftOutNow = bed.spots.filter((spot) => spot.leftOut !== null)
  const trouble = [ph, moisture, temperature].find((l) => l.problem !== null)?.problem ?? null
  return (
    <section class="sheet" id="trend" aria-label="Trend" data-testid="bed-charts">
      <div class="chart-tools">
        <Choices
          legend="Time shown"
          value={props.name}
          options={RANGES.map((value) => ({ value, words: RANGE_WORDS[value] }))}
          onChange={props.onName}
        />
        <div class="steps" role="group" aria-label="Move and zoom">
          <button type="button" onClick={() => props.onRange(moved(range, -0.5, props.latest))}>
            Earlier
          </button>
          <button type="button" onClick={() => props.onRange(moved(range, 0.5, props.latest))}>
            Later
          </button>
          <button type="button" onClick={() => props.onRange(zoomed(range, 0.5))}>
            Closer
          </button>
          <button type="button" onClick={() => props.onRange(zoomed(range, 2))}>
            Wider
          </button>
          {props.canGoBack && (
            <button type="button" onClick={props.onBack}>
              Back
            </button>
          )}
        </div>
        <label class="tick">
          <input
            type="checkbox"
            checked={spots}
            onChange={(e) => setSpots(e.currentTarget.checked)}
          />
          Each spot
        </label>
        <label class="tick">
          <input
            type="checkbox"
            checked={warmth}
            onChange={(e) => setWarmth(e.currentTarget.checked)}
          />
          Temperature
        </label>
        {props.fan !== null && (
          <label class="tick">
            <input
              type="checkbox"
              checked={props.ahead}
              onChange={(e) => props.onAhead(e.currentTarget.checked)}
            />
            Look ahead
          </label>
        )}
      </div>
      {trouble !== null && (
        <p class="error" role="alert">
          The trend could not be fetched: {trouble.detail ?? trouble.title}.
        </p>
      )}
      {shown.map((quantity, i) => (
        <ChartFigure
          key={quantity}
          {...charts[quantity]}
          range={range}
          {...(quantity === 'moisture'
            ? {
                note: "per cent of the probes' own dry-to-wet range, or by volume where a probe reports that",
              }
            : {})}
        >
          <BedChart
            quantity={quantity}
            columns={charts[quantity].columns}
            range={range}
            ticks={ticks}
            band={quantity === 'ph' ? bed.band.band : null}
            journal={journal}
            alarmTimes={alarmTimes[quantity]}
            highlighted={props.highlighted?.id ?? null}
            events={quantity === 'ph' ? props.events : NONE}
            litEvent={props.litEvent}
            fan={quantity === 'ph' && aheadShown ? props.fan : null}
            now={props.now}
            cursorAt={quantity === 'ph' ? cursorAt : null}
            units={garden.units}
            height={narrow && quantity === 'ph' ? 260 : HEIGHTS[quantity]}
            labelled={i === shown.length - 1 || quantity === 'ph'}
            rightPx={spots ? (narrow ? 62 : 92) : 14}
            onZoom={props.onRange}
            onReset={props.onBack}
            onCursor={setCursor}
          />
        </ChartFigure>
      ))}
      <Readout at={cursor} charts={shown.map((quantity) => charts[quantity])} />
      {spots && leftOutNow.length > 0 && (
        <p class="faint">
          Drawn faint and dotted, because left out of the bed&rsquo;s value:{' '}
          {leftOutNow.map((spot) => `${spot.spot} now (${spot.leftOut ?? ''})`).join('; ')}; earlier
          stretches for the same kinds of reason.
        </p>
      )}
    </section>
  )
}
