import { useEffect, useState } from 'preact/hooks'
import type { SharedBed } from '../../../hub/api/schemas/account.ts'
import { api } from '../api.ts'
import { huePlace } from '../chart/palette.ts'
import { age, dateOnly, num, standingWords } from '../format.ts'
import { useLoad } from '../hub-context.tsx'
import { Trend } from '../parts/people/trend.tsx'
import { shownAs, withUnit } from '../quantity.ts'
import { language, say, speak } from '../say.ts'
import '../parts/people/people.css'

const DAY = 86_400_000
const DAYS = 90
const POINTS = 120
const REFETCH_MS = 5 * 60_000

function Other({ bed, quantity }: { bed: SharedBed; quantity: 'moisture' | 'temperature' }) {
  const present = bed[quantity]
  const as = shownAs(quantity, bed.garden.units)
  if (present.status !== 'ok') return null
  return (
    <>
      <dt>{as.words}</dt>
      <dd>{withUnit(as.shown(present.value), as, bed.garden.units)}</dd>
    </>
  )
}

function Bed({ bed, shared }: { bed: SharedBed; shared: string }) {
  const { garden, ph } = bed
  const to = Math.ceil(bed.at / DAY) * DAY
  const asked = { quantity: 'ph', from: to - DAYS * DAY, to, points: POINTS } as const
  const series = useLoad(
    `${shared} ${to}`,
    (signal) => api.sharedSeries(shared, asked, signal),
    bed.at,
  )
  return (
    <>
      <p class="faint">{garden.name}</p>
      <h1>{bed.name}</h1>
      {bed.crops.length > 0 && <p class="crops">{bed.crops.join(', ')}</p>}
      <p class="figure">
        <span class="label">pH</span>{' '}
        {ph.status === 'ok' ? (
          <>
            <span
              class="value"
              data-testid="shared-ph"
              style={{ '--hue': String(huePlace(ph.value)) }}
            >
              {num(ph.value, 2, garden.units)}
            </span>{' '}
            <span class="doubt">± {num(ph.halfWidth, 2, garden.units)}</span>
          </>
        ) : (
          <span data-testid="shared-ph">–</span>
        )}
      </p>
      <p class="standing">
        <strong>{standingWords(bed)}</strong>
        {ph.status === 'ok' && <> · {age(ph.at, bed.at)}</>}
      </p>
      <p class="sentence">{bed.sentence}</p>
      <dl class="facts">
        <Other bed={bed} quantity="moisture" />
        <Other bed={bed} quantity="temperature" />
      </dl>
      <h2>{say`The last ${DAYS} days`}</h2>
      {series.data !== null && <Trend series={series.data} bed={bed} />}
      {series.problem !== null && (
        <p class="error">{series.problem.detail ?? series.problem.title}</p>
      )}
      <p class="hint">
        {bed.endsAt === null
          ? say`Somebody shared this bed with you, to look at.`
          : say`Somebody shared this bed with you, to look at until ${dateOnly(bed.endsAt, garden)}.`}
      </p>
    </>
  )
}

/** One bed to look at, for who was given its link: no way from here to anything else. */
export function SharedView({ shared }: { shared: string }) {
  const [tick, setTick] = useState(0)
  const [, setSpoken] = useState(language())
  const { data, problem } = useLoad(shared, (signal) => api.shared(shared, signal), tick)
  useEffect(() => {
    const timer = setInterval(() => setTick((n) => n + 1), REFETCH_MS)
    return () => clearInterval(timer)
  }, [])
  const wanted = data?.garden.language
  useEffect(() => {
    if (wanted === undefined || wanted === language()) return
    speak(wanted).then(
      () => setSpoken(wanted),
      () => undefined,
    )
  }, [wanted])
  const name = data?.name
  useEffect(() => {
    document.title = name === undefined ? 'Loamline' : `${name} · Loamline`
  }, [name])
  const gone = problem?.status === 404
  return (
    <main id="main" class="shared" tabIndex={-1}>
      {gone ? (
        <>
          <h1>{say`Nothing to see`}</h1>
          <p class="sentence">
            {say`This link has ended or was taken back. Whoever gave it to you can make a new one.`}
          </p>
        </>
      ) : (
        <>
          {problem !== null && (
            <p class="error" role="alert">
              {problem.detail ?? problem.title}
            </p>
          )}
          {data === null && problem === null && <p class="quiet-line">{say`Opening …`}</p>}
          {data !== null && <Bed key={language()} bed={data} shared={shared} />}
        </>
      )}
    </main>
  )
}
