import { useState } from 'preact/hooks'
import type { EventView, Findings } from '../../../../hub/api/schemas/findings.ts'
import { signed } from '../../doubt.ts'
import { CAUSE_WORDS } from '../../event-words.ts'
import { causeWords, changesSentence, stateWords } from '../../change-words.ts'
import { dateTime, num } from '../../format.ts'
import type { Units } from '../../format.ts'
import { useHub, useNow } from '../../hub-context.tsx'
import { said, say } from '../../say.ts'
import { EventSign } from '../event-sign.tsx'
import { Link } from '../link.tsx'
import { Finding, NotYet, Why } from './finding.tsx'

/** Events shown before asking for all. */
const AT_FIRST = 5

export interface ChangedProps {
  readonly findings: Findings
  readonly lit: string | null
  readonly onLit: (id: string | null) => void
  /** Moves the charts to an event. */
  readonly onShow: (event: EventView) => void
  /** Goes to an entry of the journal. */
  readonly onEntry: (id: number) => void
}

/** Which spots moved, from where to where. */
function SpotMoves({ event }: { event: EventView }) {
  const { garden } = useHub()
  const n = (x: number | null): string => num(x, 2, garden.units)
  return (
    <div class="scroll">
      <table class="stack">
        <caption>{say`Spot by spot, pH`}</caption>
        <thead>
          <tr>
            <th scope="col">{say`Spot`}</th>
            <th scope="col">{say`Probe`}</th>
            <th scope="col" class="n">{say`Before`}</th>
            <th scope="col" class="n">{say`After`}</th>
            <th scope="col" class="n">{say`Change, pH`}</th>
            <th scope="col">{say`Verdict`}</th>
          </tr>
        </thead>
        <tbody>
          {event.spots.map((spot) => (
            <tr key={`${spot.spotId} ${spot.probe}`}>
              <td data-label={say`Spot`}>{spot.spot}</td>
              <td data-label={say`Probe`}>
                <Link to={{ page: 'probe', id: spot.probe }} class="id">
                  {spot.probe}
                </Link>
              </td>
              <td data-label={say`Before`} class="n">
                {n(spot.before)}
              </td>
              <td data-label={say`After`} class="n">
                {n(spot.before === null || spot.change === null ? null : spot.before + spot.change)}
              </td>
              <td data-label={say`Change, pH`} class="n">
                {signed(spot.change, 2, garden.units)}
              </td>
              <td data-label={say`Verdict`}>{spot.moved ? say`moved` : say`stayed`}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  )
}

/** How fast it came, how it stands now, and whether the plan had room for it. */
function footWords(
  event: EventView,
  where: { readonly zone: string; readonly units: Units },
): string {
  const parts = [
    event.form === 'step' ? say`Within hours` : say`Over days`,
    event.state === 'open' && event.present !== null
      ? say`${stateWords(event, where)}, ${signed(event.present, 2, where.units)} of it now`
      : stateWords(event, where),
    ...(event.withinPlan === false ? [say`more than one treatment should do`] : []),
  ]
  return `${parts.join('; ')}.`
}

function Event({
  event,
  lit,
  onLit,
  onShow,
  onEntry,
}: { event: EventView } & Omit<ChangedProps, 'findings'>) {
  const { garden } = useHub()
  const now = useNow(60_000)
  const { journalId } = event
  const when = dateTime(event.onset, garden)
  return (
    // oxlint-disable-next-line jsx-a11y/no-noninteractive-element-interactions -- only lights up its mark on the chart; the buttons inside do the same by focus
    <li
      class={event.id === lit ? 'event lit' : 'event'}
      data-event={event.id}
      onMouseEnter={() => onLit(event.id)}
      onMouseLeave={() => onLit(null)}
      onFocusCapture={() => onLit(event.id)}
      onBlurCapture={() => onLit(null)}
    >
      <h4>
        <EventSign event={event} />
        <time dateTime={new Date(event.onset).toISOString()}>{when}</time>{' '}
        <span class="size">
          {signed(event.size, 2, garden.units)} ± {num(event.halfWidth, 2, garden.units)}
        </span>{' '}
        <span class="cause">{causeWords(event, now, garden)}</span>
      </h4>
      <p class="sentence">{event.sentence}</p>
      {event.advice !== '' && <p class="advice">{event.advice}</p>}
      <div class="event-foot">
        <p class="faint">{footWords(event, garden)}</p>
        <button type="button" class="quiet" onClick={() => onShow(event)}>
          {say`Show on the chart`}
          <span class="unseen">{say`, change of ${when}`}</span>
        </button>
        {journalId !== null && (
          <button type="button" class="quiet" onClick={() => onEntry(journalId)}>
            {say`Journal entry`}
            <span class="unseen"> {say`behind the change of ${when}`}</span>
          </button>
        )}
      </div>
      <Why of={say`the change of ${when}`} grounds={event.grounds}>
        {event.firstCause !== event.cause && (
          <p>{say`When it was noticed it looked like ${said(CAUSE_WORDS[event.firstCause])}.`}</p>
        )}
        {event.otherBeds.length > 0 && (
          <p>{say`Moved the same way within a day: ${event.otherBeds.join(', ')}.`}</p>
        )}
        {event.spots.length > 0 && <SpotMoves event={event} />}
        <p class="faint">
          {event.decidedAt === null
            ? say`Noticed ${dateTime(event.noticedAt, garden)}.`
            : say`Noticed ${dateTime(event.noticedAt, garden)}, cause settled ${dateTime(event.decidedAt, garden)}.`}
        </p>
      </Why>
    </li>
  )
}

/** How often chance alone would raise a signal. */
function Noise({ noise }: { noise: Findings['noise'] }) {
  const { garden } = useHub()
  if (noise.length === 0) return null
  return (
    <details class="why">
      <summary>{say`How often chance alone would look like a change`}</summary>
      <div class="scroll">
        <table class="stack">
          <caption>{say`Each probe by its own unrest`}</caption>
          <thead>
            <tr>
              <th scope="col">{say`Spot`}</th>
              <th scope="col">{say`Probe`}</th>
              <th scope="col" class="n">{say`Usual deviation of an hour, pH`}</th>
              <th scope="col" class="n">{say`False signals a year`}</th>
            </tr>
          </thead>
          <tbody>
            {noise.map((row) => (
              <tr key={`${row.spot} ${row.probe}`}>
                <td data-label={say`Spot`}>{row.spot}</td>
                <td data-label={say`Probe`}>
                  <Link to={{ page: 'probe', id: row.probe }} class="id">
                    {row.probe}
                  </Link>
                </td>
                <td data-label={say`Usual deviation of an hour, pH`} class="n">
                  {num(row.sd, 2, garden.units)}
                </td>
                <td data-label={say`False signals a year`} class="n">
                  {num(row.falsePerYear, 1, garden.units)}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </details>
  )
}

/** Changes of level of the last 400 days, newest first, each with what it most likely comes from. */
export function Changed(props: ChangedProps) {
  const { learning, noise } = props.findings
  const events = props.findings.events.toSorted((a, b) => b.onset - a.onset)
  const [all, setAll] = useState(false)
  const shown = all ? events : events.slice(0, AT_FIRST)
  return (
    <Finding id="changed" title={say`What changed`}>
      <p class="sentence">{changesSentence(events)}</p>
      {learning !== null && <NotYet {...learning} />}
      {shown.length > 0 && (
        <ol class="events" aria-label={say`Changes, newest first`}>
          {shown.map((event) => (
            <Event key={event.id} {...props} event={event} />
          ))}
        </ol>
      )}
      {events.length > AT_FIRST && (
        <p>
          <button type="button" aria-expanded={all} onClick={() => setAll(!all)}>
            {all ? say`Show the newest ${AT_FIRST} only` : say`Show all ${events.length} changes`}
          </button>
        </p>
      )}
      <Noise noise={noise} />
    </Finding>
  )
}
