import { useCallback, useMemo, useState } from 'preact/hooks'
import type { BedView as Bed, Present } from '../../../hub/api/schemas/bed.ts'
import type { EventView } from '../../../hub/api/schemas/findings.ts'
import type { Entry } from '../../../hub/api/schemas/journal.ts'
import { api } from '../api.ts'
import { AHEAD, RANGE_DAYS, rangeBack } from '../chart/range.ts'
import type { Range, RangeName } from '../chart/range.ts'
import { age, amount, num } from '../format.ts'
import { useHub, useLoad, useNow } from '../hub-context.tsx'
import { AlarmStrips } from '../parts/alarm-strip.tsx'
import { BedCharts } from '../parts/bed-charts.tsx'
import { BedForm } from '../parts/bed-form.tsx'
import { FormProblem, useSend } from '../parts/field.tsx'
import { Confirm } from '../parts/form.tsx'
import { Journal } from '../parts/journal.tsx'
import { later } from '../parts/later.tsx'
import { Link } from '../parts/link.tsx'
import { NextStep } from '../parts/next-step.tsx'
import { PresentPh } from '../parts/present.tsx'
import { Spots } from '../parts/spots.tsx'
import { shownAs, withUnit } from '../quantity.ts'
import { said, say, toSay } from '../say.ts'
import { textureWords } from '../texture-words.ts'
import { useAskedRange } from '../use-asked-range.ts'
import { go } from '../use-route.ts'
import { useThrottled } from '../use-throttled.ts'

const MINUTE = 60_000
const DAY = 86_400_000
const OLDEST_DAYS = 550
/** What was found changes slowly; a journal entry or an alarm asks again at once. */
const FINDINGS_REFETCH_MS = 60_000
/** How much of the charts may be future when it is asked for. */
const AHEAD_MOST = 0.5
/** Days shown about an event or an entry that is gone to. */
const ABOUT_DAYS = 14
const NO_PHOTOS: readonly number[] = []
const NO_EVENTS: readonly EventView[] = []

const PlanAtWork = later(async () => (await import('../parts/plan/plan-at-work.tsx')).PlanAtWork)
const Findings = later(async () => (await import('../parts/findings/findings.tsx')).Findings)

const ON_THIS_PAGE = [
  ['journal-title', toSay('Journal')],
  ['changed', toSay('What changed')],
  ['drift', toSay('Slow drift')],
  ['effects', toSay('What amendments did')],
  ['ahead', toSay('What lies ahead')],
  ['water', toSay('Water')],
  ['spots-needed', toSay('How many spots')],
  ['quality', toSay('How the readings fared')],
  ['bed-title', toSay('This bed')],
] as const

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
          : say`not enough yet: ${present.have}; needed: ${present.need}`}
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
      <dt>{say`Band`}</dt>
      <dd>
        {bed.band.band !== null &&
          say`pH ${num(bed.band.band.low, 1, garden.units)} to ${num(bed.band.band.high, 1, garden.units)}.`}{' '}
        {bed.band.sentence}
      </dd>
      {ph.status === 'ok' && (
        <>
          <dt>{say`pH rests on`}</dt>
          <dd>{ph.used.join(', ')}</dd>
          {ph.leftOut.length > 0 && (
            <>
              <dt>{say`Left out`}</dt>
              <dd>{ph.leftOut.map(({ spot, reason }) => `${spot}: ${reason}`).join('; ')}</dd>
            </>
          )}
        </>
      )}
      <dt>{say`Soil`}</dt>
      <dd>
        {say`${textureWords(bed.texture)}, ${amount('area', bed.areaM2, garden.units)}, worked ${amount('depth', bed.depthM, garden.units)} deep`}
      </dd>
    </dl>
  )
}

/** One bed. */
export function BedView({ id }: { id: number }) {
  const { beds, loaded, refresh, bedTicks, journalTicks, alarmTick, connection, garden } = useHub()
  const now = useNow(MINUTE)
  const { name, zoom, setName, onRange, ...zooming } = useAskedRange(garden.zone)
  const [highlighted, setHighlighted] = useState<Entry | null>(null)
  const [lit, setLit] = useState<string | null>(null)
  const [pinned, setPinned] = useState<string | null>(null)
  const [wanted, setWanted] = useState<{ readonly entry: number } | null>(null)
  const [ahead, setAhead] = useState(false)
  const [editing, setEditing] = useState(false)
  const { problem, send } = useSend()
  const bed = beds.find((b) => b.id === id)
  const until = Math.ceil(now / MINUTE) * MINUTE
  const every = useLoad(
    loaded ? `first ${id}` : null,
    (signal) => api.journal(id, {}, signal),
    journalTicks[id] ?? 0,
  )
  const photos = useLoad(
    loaded ? `photos ${id}` : null,
    (signal) => api.photos(id, signal),
    journalTicks[id] ?? 0,
  )
  const oldest = useLoad(name === 'all' ? `oldest ${id}` : null, (signal) =>
    api.series(id, { quantity: 'ph', from: 0, to: until, points: 5000, spots: false }, signal),
  )
  const tick = useThrottled(bedTicks[id] ?? 0, FINDINGS_REFETCH_MS)
  const found = useLoad(
    loaded ? `findings ${id}` : null,
    (signal) => api.findings(id, signal),
    `${tick} ${journalTicks[id] ?? 0} ${alarmTick} ${connection}`,
  )
  const fan = found.data?.forecast.status === 'ok' ? found.data.forecast : null
  const fanEnd = fan?.time.at(-1) ?? until
  const events = found.data?.events ?? NO_EVENTS
  const firstAt = oldest.data?.time[0]
  const range = useMemo((): Range => {
    if (zoom !== undefined) return zoom
    const days =
      name !== 'all'
        ? RANGE_DAYS[name]
        : firstAt === undefined
          ? OLDEST_DAYS
          : Math.max(1, (until - firstAt) / DAY + 1)
    const back = rangeBack(until, days)
    if (!ahead) return back
    return { ...back, to: Math.max(back.to, Math.min(fanEnd, until + AHEAD_MOST * days * DAY)) }
  }, [zoom, name, until, firstAt, ahead, fanEnd])
  const alarms = useLoad(
    `alarms ${id}`,
    (signal) => api.alarms({ bed: id, limit: 200 }, signal),
    alarmTick,
  )
  const entries = useMemo(
    () => (every.data ?? []).filter(({ at }) => at >= range.from && at < range.to),
    [every.data, range],
  )
  const onBack = useCallback(() => {
    setPinned(null)
    zooming.onBack()
  }, [])
  const onReset = useCallback(() => {
    setPinned(null)
    zooming.reset()
  }, [])
  const onName = useCallback((next: RangeName) => {
    onReset()
    setName(next)
  }, [])
  const onAhead = useCallback((next: boolean) => {
    zooming.reset()
    setAhead(next)
  }, [])
  const onShowEvent = (event: EventView): void => {
    const end = Math.max(event.onset + ABOUT_DAYS * DAY, event.endedAt ?? 0)
    const to = Math.min(end + DAY, until + DAY)
    onRange({ from: event.onset - ABOUT_DAYS * DAY, to })
    setPinned(event.id)
    document.getElementById('trend')?.scrollIntoView()
  }
  const onEntry = (entryId: number): void => {
    const entry = every.data?.find((e) => e.id === entryId)
    if (entry !== undefined && (entry.at < range.from || entry.at >= range.to)) {
      onRange({ from: entry.at - ABOUT_DAYS * DAY, to: entry.at + ABOUT_DAYS * DAY })
    }
    setWanted({ entry: entryId })
  }

  if (bed === undefined) {
    return loaded ? (
      <>
        <h1>{say`No such bed`}</h1>
        <p class="sentence">
          {say`There is no bed ${id} in use.`}{' '}
          <Link to={{ page: 'garden' }}>{say`Back to the garden`}</Link>
        </p>
      </>
    ) : (
      <p class="quiet-line">{say`Fetching the garden …`}</p>
    )
  }
  const crops = bed.crops.map((crop) => crop.name).join(', ')
  return (
    <div data-bed={bed.id}>
      <div class="bed-head">
        <div>
          <h1>{bed.name}</h1>
          <p class="crops">{crops === '' ? say`no crops named` : crops}</p>
          <p class="sentence">{bed.sentence}</p>
          <p class="buttons">
            <Link to={{ page: 'plan', id }} class="button">
              {say`Decide what to do`}
            </Link>
            <Link data-needs="change" to={{ page: 'measure', id }} class="button">
              {say`Measure by hand`}
            </Link>
            <Link to={{ page: 'report', bed: id }} class="button">
              {say`Report of the season`}
            </Link>
          </p>
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
      <AlarmStrips alarms={bed.alarms} />
      <ul class="jump" aria-label={say`On this page`}>
        {ON_THIS_PAGE.map(([anchor, words]) => (
          <li key={anchor}>
            <a href={`#${anchor}`}>{said(words)}</a>
          </li>
        ))}
      </ul>
      {bed.spots.length === 0 && <Spots bed={bed} />}
      <NextStep />
      <BedCharts
        bed={bed}
        name={zoom === undefined ? name : null}
        range={range}
        latest={Math.max(until + (range.to - range.from) * AHEAD, fanEnd)}
        onName={onName}
        onRange={onRange}
        onBack={onBack}
        onReset={onReset}
        isZoomed={zoom !== undefined}
        journal={entries}
        alarms={alarms.data ?? []}
        highlighted={highlighted}
        events={events}
        litEvent={lit ?? pinned}
        fan={fan}
        ahead={ahead}
        onAhead={onAhead}
        now={until}
      />
      <Journal
        bed={bed}
        photos={photos.data ?? NO_PHOTOS}
        entries={entries}
        highlighted={highlighted}
        onHighlight={setHighlighted}
        wanted={wanted}
      />
      <PlanAtWork bedId={id} tick={`${tick} ${journalTicks[id] ?? 0} ${connection}`} />
      {found.problem !== null && (
        <p class="error" role="alert">
          {say`What was found could not be fetched: ${found.problem.detail ?? found.problem.title}.`}{' '}
          <button type="button" onClick={found.reload}>
            {say`Fetch again`}
          </button>
        </p>
      )}
      {found.data === null ? (
        found.problem === null && <p class="quiet-line">{say`Fetching what was found …`}</p>
      ) : (
        <Findings
          bed={bed}
          findings={found.data}
          litEvent={lit ?? pinned}
          onLitEvent={setLit}
          onShowEvent={onShowEvent}
          onEntry={onEntry}
        />
      )}
      {bed.spots.length > 0 && <Spots bed={bed} />}
      <section class="sheet" aria-labelledby="bed-title">
        <div class="section-head">
          <h2 id="bed-title" tabIndex={-1}>
            {say`This bed`}
          </h2>
          {!editing && (
            <span>
              <button data-needs="change" type="button" onClick={() => setEditing(true)}>
                {say`Change the bed`}
              </button>
              <Confirm
                words={say`Retire`}
                ask={say`Take this bed out of use? Its history is kept.`}
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
