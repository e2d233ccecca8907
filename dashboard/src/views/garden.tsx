import { useMemo, useState } from 'preact/hooks'
import { EventSign } from '../parts/event-sign.tsx'
import { Choices } from '../parts/field.tsx'
import { Lane } from '../parts/lane.tsx'
import { later } from '../parts/later.tsx'
import { Link } from '../parts/link.tsx'
import { StrangerStrip } from '../parts/stranger-strip.tsx'
import { rangeBack, WALL_RANGES } from '../chart/range.ts'
import type { Range } from '../chart/range.ts'
import { localeOf, num } from '../format.ts'
import { useHub, useNow } from '../hub-context.tsx'
import { said, say } from '../say.ts'
import { timeTicks } from '../zone.ts'
import type { Tick } from '../zone.ts'

const FirstSteps = later(async () => (await import('./first-steps.tsx')).FirstSteps)

const HOUR = 3_600_000

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
          <ol class="wall" aria-label={say`Beds`}>
            <li class="wall-top" aria-hidden="true">
              <WallAxis range={range} ticks={ticks} />
            </li>
            {beds.map((bed) => (
              <Lane key={bed.id} bed={bed} range={range} ticks={ticks} />
            ))}
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
              <Link to={{ page: 'new-bed' }} class="button">
                {say`Add a bed`}
              </Link>
            </p>
          </div>
        </>
      )}
    </>
  )
}
