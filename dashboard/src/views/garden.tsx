import { useMemo, useState } from 'preact/hooks'
import { EventSign } from '../parts/event-sign.tsx'
import { Choice, Choices, Field } from '../parts/field.tsx'
import { Lane } from '../parts/lane.tsx'
import { later } from '../parts/later.tsx'
import { Link } from '../parts/link.tsx'
import { rangeBack, WALL_RANGES } from '../chart/range.ts'
import type { Range } from '../chart/range.ts'
import { localeOf, num } from '../format.ts'
import { useHub, useNow } from '../hub-context.tsx'
import { said, say } from '../say.ts'
import { useKept } from '../use-kept.ts'
import {
  GROUP_WORDS,
  GROUPS,
  groupOf,
  ORDER_WORDS,
  WALL_ORDERS,
  wallGroups,
} from '../wall-order.ts'
import type { WallOrder } from '../wall-order.ts'
import { timeTicks } from '../zone.ts'
import type { Tick } from '../zone.ts'

const StrangerStrip = later(
  async () => (await import('../parts/stranger-strip.tsx')).StrangerStrip,
  'quiet',
)
const FirstSteps = later(async () => (await import('./first-steps.tsx')).FirstSteps)

const HOUR = 3_600_000
/** From so many beds on, one is looked for by name. */
const MANY = 9

/** The wall's one time axis. */
function WallAxis({ range, ticks }: { range: Range; ticks: readonly Tick[] }) {
  const place = (at: number): string => `${((at - range.from) / (range.to - range.from)) * 100}%`
  return (
    <div class="wall-axis" aria-hidden="true">
      <div class="wall-axis-scale">
        {ticks.map((tick) => (
          <span key={tick.at} class={tick.major ? 'major' : ''} style={{ left: place(tick.at) }}>
            {tick.label}
          </span>
        ))}
      </div>
    </div>
  )
}

/** The garden page: every bed a lane on one time axis. */
export function GardenView() {
  const { beds, probes, garden, health, loaded } = useHub()
  const [days, setDays] = useState<number>(214)
  const [kept, keep] = useKept<{ order: WallOrder }>('loamline wall', { order: 'entered' })
  const order = WALL_ORDERS.find((one) => one === kept.order) ?? 'entered'
  const [text, setText] = useState('')
  const now = useNow(60_000)
  const until = Math.ceil(now / HOUR) * HOUR
  const range = useMemo(() => rangeBack(until, days), [until, days])
  const ticks = useMemo(
    () =>
      timeTicks(range.from, range.to, {
        zone: garden.zone,
        locale: localeOf(garden.units),
        most: 10,
      }),
    [range, garden.zone, garden.units],
  )
  if (!loaded) return <p class="quiet-line">{say`Fetching the garden …`}</p>
  const strangers = probes.filter((probe) => probe.adoptedAt === null)
  const placed = probes.some((probe) => probe.spotId !== null)
  const groups = wallGroups(beds, { order, text, locale: localeOf(garden.units) })
  const standing = GROUPS.map((group) => ({
    group,
    n: beds.filter((bed) => groupOf(bed) === group).length,
  })).filter(({ n }) => n > 0)
  return (
    <>
      <div class="page-head">
        <h1>{garden.name === '' ? say`Garden` : garden.name}</h1>
        {beds.length > 0 && (
          <Choices
            legend={say`Time shown`}
            value={days}
            options={WALL_RANGES.map((r) => ({ value: r.days, words: said(r.words) }))}
            onChange={setDays}
          />
        )}
      </div>
      {health?.loading && (
        <p class="quiet-line" role="status">
          {health.loading.what}: {num(health.loading.done * 100, 0, garden.units)} %
        </p>
      )}
      {strangers.map((probe) => (
        <StrangerStrip key={probe.id} probe={probe} />
      ))}
      {(beds.length === 0 || !placed) && <FirstSteps />}
      {beds.length > 0 && (
        <>
          {beds.length > 1 && (
            <div class="wall-bar">
              <p class="standing-line" data-testid="standing">
                {standing.map(({ group, n }) => (
                  <span key={group} class={group}>
                    {said(GROUP_WORDS[group])}: <b>{n}</b>
                  </span>
                ))}
              </p>
              <div class="fields">
                {beds.length >= MANY && (
                  <Field label={say`Find a bed`} value={text} onInput={setText} width="short" />
                )}
                <Choice
                  label={say`Order`}
                  value={order}
                  options={WALL_ORDERS.map((value) => ({ value, words: said(ORDER_WORDS[value]) }))}
                  onChange={(value) => keep({ order: value as WallOrder })}
                />
              </div>
            </div>
          )}
          {groups.length === 0 && (
            <p class="sentence" role="status">
              {say`No bed has “${text}” in its name or crops.`}
            </p>
          )}
          <ol class="wall" aria-label={say`Beds`}>
            <li class="wall-top" aria-hidden="true">
              <WallAxis range={range} ticks={ticks} />
            </li>
            {groups.map(({ group, beds: together }) => [
              group !== null && (
                <li key={group} class="wall-group">
                  {said(GROUP_WORDS[group])}
                </li>
              ),
              ...together.map((bed) => <Lane key={bed.id} bed={bed} range={range} ticks={ticks} />),
            ])}
          </ol>
          <div class="legend">
            <p>
              <b class="key-line" /> {say`pH of the bed`} <b class="key-shade" />{' '}
              {say`its 95 % interval`} <b class="key-band" /> {say`crop band`}{' '}
              <b class="key-tick" /> {say`journal entry`} · ✚ {say`hand sample`} ·{' '}
              <EventSign event={{ form: 'step', size: 1 }} />{' '}
              {say`newest change that is still there`}
            </p>
            <p>
              <Link data-needs="change" to={{ page: 'new-bed' }} class="button">
                {say`Add a bed`}
              </Link>
            </p>
          </div>
        </>
      )}
    </>
  )
}
