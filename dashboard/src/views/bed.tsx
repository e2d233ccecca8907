import { useCallback, useEffect, useMemo, useState } from 'preact/hooks'
import type { BedView as Bed, Present } from '../../../hub/api/schemas/bed.ts'
import type { Entry } from '../../../hub/api/schemas/journal.ts'
import { api } from '../api.ts'
import { AHEAD, RANGES, RANGE_DAYS, rangeBack } from '../chart/range.ts'
import type { Range, RangeName } from '../chart/range.ts'
import { age, amount, num } from '../format.ts'
import { useHub, useLoad, useNow } from '../hub-context.tsx'
import { AlarmStrip } from '../parts/alarm-strip.tsx'
import { BedCharts } from '../parts/bed-charts.tsx'
import { BedForm } from '../parts/bed-form.tsx'
import { Confirm, FormProblem, useSend } from '../parts/field.tsx'
import { Journal } from '../parts/journal.tsx'
import { Link } from '../parts/link.tsx'
import { PresentPh } from '../parts/present.tsx'
import { Spots } from '../parts/spots.tsx'
import { shownAs, withUnit } from '../quantity.ts'
import { go } from '../use-route.ts'

const MINUTE = 60_000
const DAY = 86_400_000
const OLDEST_DAYS = 550

function OtherPresent({ bed, quantity }: { bed: Bed; quantity: 'moisture' | 'temperature' }) {
  const { garden } = useHub()
  const now = useNow()
  const present: Present = bed[quantity]
  const as = shownAs(quantity, garden.units)
  return (
    <>
      <dt>{as.words}</dt>
      <dd>
        {present.status === 'ok'
          ? `${withUnit(as.shown(present.value), as, garden.units)} ± ${num(as.scaled(present.halfWidth), as.decimals, garden.units)}, ${age(present.at, now)}`
          : `not enough yet: ${present.have}; needed: ${present.need}`}
      </dd>
    </>
  )
}

/** What the values rest on. */
function Grounds({ bed }: { bed: Bed }) {
  const { garden } = useHub()
  const { ph } = bed
  return (
    <dl class="facts">
      <OtherPresent bed={bed} quantity="moisture" />
      <OtherPresent bed={bed} quantity="temperature" />
      <dt>Band</dt>
      <dd>
        {bed.band.band !== null &&
          `pH ${num(bed.band.band.low, 1, garden.units)} to ${num(bed.band.band.high, 1, garden.units)}. `}
        {bed.band.sentence}
      </dd>
      {ph.status === 'ok' && (
        <>
          <dt>pH rests on</dt>
          <dd>{ph.used.join(', ')}</dd>
          {ph.leftOut.length > 0 && (
            <>
              <dt>Left out</dt>
              <dd>{ph.leftOut.map(({ spot, reason }) => `${spot}: ${reason}`).join('; ')}</dd>
            </>
          )}
        </>
      )}
      <dt>Soil</dt>
      <dd>
        {bed.texture}, {amount('area', bed.areaM2, garden.units)}, worked{' '}
        {amount('depth', bed.depthM, garden.units)} deep
      </dd>
    </dl>
  )
}

function startRange(): RangeName {
  const asked = new URLSearchParams(location.search).get('range')
  return RANGES.find((name) => name === asked) ?? 'season'
}

/** One bed. */
export function BedView({ id }: { id: number }) {
  const { beds, loaded, refresh, journalTicks, alarmTick } = useHub()
  const now = useNow(MINUTE)
  const [name, setName] = useState<RangeName>(startRange)
  const [zooms, setZooms] = useState<readonly Range[]>([])
  const [highlighted, setHighlighted] = useState<Entry | null>(null)
  const [editing, setEditing] = useState(false)
  const { problem, send } = useSend()
  const bed = beds.find((b) => b.id === id)
  const until = Math.ceil(now / MINUTE) * MINUTE
  const every = useLoad(
    loaded ? `first ${id}` : null,
    (signal) => api.journal(id, {}, signal),
    journalTicks[id] ?? 0,
  )
  const oldest = useLoad(name === 'all' ? `oldest ${id}` : null, (signal) =>
    api.series(id, { quantity: 'ph', from: 0, to: until, points: 5000, spots: false }, signal),
  )
  const zoom = zooms.at(-1)
  const firstAt = oldest.data?.time[0]
  const range = useMemo((): Range => {
    if (zoom !== undefined) return zoom
    if (name !== 'all') return rangeBack(until, RANGE_DAYS[name])
    const days = firstAt === undefined ? OLDEST_DAYS : Math.max(1, (until - firstAt) / DAY + 1)
    return rangeBack(until, days)
  }, [zoom, name, until, firstAt])
  const alarms = useLoad(
    `alarms ${id}`,
    (signal) => api.alarms({ bed: id, limit: 200 }, signal),
    alarmTick,
  )
  const entries = useMemo(
    () => (every.data ?? []).filter(({ at }) => at >= range.from && at < range.to),
    [every.data, range],
  )
  useEffect(() => {
    const search = name === 'season' ? '' : `?range=${name}`
    if (location.search !== search) history.replaceState(null, '', `${location.pathname}${search}`)
  }, [name])
  const onRange = useCallback((next: Range) => setZooms((old) => [...old, next]), [])
  const onBack = useCallback(() => setZooms((old) => old.slice(0, -1)), [])
  const onName = useCallback((next: RangeName) => {
    setZooms([])
    setName(next)
  }, [])

  if (bed === undefined) {
    return loaded ? (
      <>
        <h1>No such bed</h1>
        <p class="sentence">
          There is no bed {id} in use. <Link to={{ page: 'garden' }}>Back to the garden</Link>
        </p>
      </>
    ) : (
      <p class="quiet-line">Fetching the garden …</p>
    )
  }
  const crops = bed.crops.map((crop) => crop.name).join(', ')
  return (
    <div data-bed={bed.id}>
      <div class="bed-head">
        <div>
          <h1>{bed.name}</h1>
          <p class="crops">{crops === '' ? 'no crops named' : crops}</p>
          <p class="sentence">{bed.sentence}</p>
          {bed.notices.map((notice) => (
            <p key={`${notice.probe} ${notice.kind}`} class="sentence">
              <Link to={{ page: 'probe', id: notice.probe }} class="id">
                {notice.probe}
              </Link>
              : {notice.sentence}
            </p>
          ))}
        </div>
        <PresentPh bed={bed} />
      </div>
      {bed.alarms.map((alarm) => (
        <AlarmStrip key={alarm.id} alarm={alarm} />
      ))}
      {bed.spots.length === 0 && <Spots bed={bed} />}
      <BedCharts
        bed={bed}
        name={zoom === undefined ? name : null}
        range={range}
        latest={until + (range.to - range.from) * AHEAD}
        onName={onName}
        onRange={onRange}
        onBack={onBack}
        canGoBack={zooms.length > 0}
        journal={entries}
        alarms={alarms.data ?? []}
        highlighted={highlighted}
      />
      <Journal bed={bed} entries={entries} highlighted={highlighted} onHighlight={setHighlighted} />
      {bed.spots.length > 0 && <Spots bed={bed} />}
      <section class="sheet" aria-labelledby="bed-title">
        <div class="section-head">
          <h2 id="bed-title">This bed</h2>
          {!editing && (
            <span>
              <button type="button" onClick={() => setEditing(true)}>
                Change the bed
              </button>
              <Confirm
                words="Retire"
                ask="Take this bed out of use? Its history is kept."
                onYes={() =>
                  send(async () => {
                    await api.retireBed(id)
                    await refresh('beds')
                    go({ page: 'garden' })
                  })
                }
              />
            </span>
          )}
        </div>
        <FormProblem problem={problem} fields={[]} />
        {editing ? (
          <BedForm
            bed={bed}
            onCancel={() => setEditing(false)}
            onSave={async (input) => {
              await api.saveBed(id, input)
              await refresh('beds')
              setEditing(false)
            }}
          />
        ) : (
          <Grounds bed={bed} />
        )}
      </section>
    </div>
  )
}
