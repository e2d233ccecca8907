import { useEffect, useMemo, useRef, useState } from 'preact/hooks'
import type { BedView } from '../../../hub/api/schemas/bed.ts'
import { firstApi } from '../first-api.ts'
import { chartColumns } from '../chart/columns.ts'
import { LaneChart } from '../chart/lane-chart.tsx'
import { PicturePlace } from '../chart/picture-place.ts'
import type { DrawAgain } from '../chart/picture-place.ts'
import type { Range } from '../chart/range.ts'
import { causeBriefly, newestOpen } from '../event-words.ts'
import { dateOnly } from '../format.ts'
import { useHub, useLoad } from '../hub-context.tsx'
import type { Tick } from '../zone.ts'
import { shownAs } from '../quantity.ts'
import { say } from '../say.ts'
import { useNear } from '../use-near.ts'
import { AlarmStrips } from './alarm-strip.tsx'
import { bedSummary } from './bed-summary.ts'
import { EventSign } from './event-sign.tsx'
import { FigureMore } from './figure/figure-more.tsx'
import { later } from './later.tsx'
import { Link } from './link.tsx'
import { PresentPh } from './present.tsx'

const LaneNumbers = later(async () => (await import('./lane-numbers.tsx')).LaneNumbers)

const POINTS = 420
/** The strip of a whole season hardly changes within a minute; the newest point is drawn at once anyway. */
const REFETCH_MS = 60_000

/** One bed on the wall. */
export function Lane({
  bed,
  range,
  ticks,
}: {
  bed: BedView
  range: Range
  ticks: readonly Tick[]
}) {
  const { garden, bedTicks, journalTicks } = useHub()
  const tick = bedTicks[bed.id] ?? 0
  const [shownTick, setShownTick] = useState(tick)
  const fetchedAt = useRef(Date.now())
  useEffect(() => {
    if (tick === shownTick || Date.now() - fetchedAt.current < REFETCH_MS) return
    fetchedAt.current = Date.now()
    setShownTick(tick)
  }, [tick, shownTick])
  const asked = { quantity: 'ph', ...range, points: POINTS, spots: false } as const
  const [place, near] = useNear<HTMLLIElement>()
  const key = near ? `${bed.id} ${range.from} ${range.to}` : null
  const series = useLoad(key, (signal) => firstApi.series(bed.id, asked, signal), shownTick)
  const journal = useLoad(
    key,
    (signal) => firstApi.journal(bed.id, { from: range.from, to: range.to }, signal),
    journalTicks[bed.id] ?? 0,
  )
  const found = useLoad(
    near ? `${bed.id}` : null,
    (signal) => firstApi.findings(bed.id, signal),
    shownTick,
  )
  const event = useMemo(() => newestOpen(found.data?.events ?? []), [found.data])
  const entries = useMemo(() => journal.data ?? [], [journal.data])
  const columns = useMemo(
    () => chartColumns(series.data, { ...range, present: bed.ph, shown: (x) => x }),
    [series.data, range, bed.ph],
  )
  const summary = useMemo(
    () => bedSummary({ columns, as: shownAs('ph', garden.units) }, range, garden),
    [columns, range, garden],
  )
  const picture = useRef<DrawAgain | null>(null)
  const crops = bed.crops.map((crop) => crop.name).join(', ')
  return (
    <li class="lane" data-bed={bed.id} ref={place}>
      <div class="lane-name">
        <h2>
          <Link to={{ page: 'bed', id: bed.id }}>{bed.name}</Link>
        </h2>
        <p class="crops">{crops === '' ? say`no crops named` : crops}</p>
      </div>
      <div class="lane-chart">
        {series.problem !== null && (
          <p class="error">{say`The trend could not be fetched: ${series.problem.title}.`}</p>
        )}
        {near && (
          <div role="img" aria-label={say`pH of ${bed.name}: ${summary}`}>
            <PicturePlace.Provider value={picture}>
              <LaneChart
                bed={bed}
                columns={columns}
                journal={entries}
                event={event}
                range={range}
                ticks={ticks}
                units={garden.units}
              />
            </PicturePlace.Provider>
          </div>
        )}
      </div>
      <div class="lane-now">
        <PresentPh bed={bed} />
        <p class="sentence">{bed.sentence}</p>
        {(bed.standing === 'below' || bed.standing === 'above') && (
          <p class="lane-next">
            <Link to={{ page: 'plan', id: bed.id }}>
              {say`Decide what to do`}
              <span class="unseen"> ({bed.name})</span>
            </Link>
          </p>
        )}
        {event !== null && (
          <p class="lane-event" data-event={event.id}>
            <EventSign event={event} />{' '}
            {say`changed ${dateOnly(event.onset, garden)}: ${causeBriefly(event)}`}
          </p>
        )}
        {found.problem !== null && (
          <p class="error">{say`Its changes could not be fetched: ${found.problem.title}.`}</p>
        )}
        <FigureMore name={say`pH of ${bed.name}`} brief={say`as numbers`}>
          {() => (
            <LaneNumbers
              bed={bed}
              columns={columns}
              range={range}
              summary={summary}
              draw={() => picture.current}
            />
          )}
        </FigureMore>
      </div>
      {bed.alarms.length > 0 && (
        <div class="lane-strips">
          <AlarmStrips alarms={bed.alarms} brief />
        </div>
      )}
    </li>
  )
}
