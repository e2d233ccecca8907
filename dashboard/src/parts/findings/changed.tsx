import { useState } from 'preact/hooks'
import type { EventView, Findings } from '../../../../hub/api/schemas/findings.ts'
import { signed } from '../../doubt.ts'
import { CAUSE_WORDS, causeWords, changesSentence, stateWords } from '../../event-words.ts'
import { dateTime, num } from '../../format.ts'
import { useHub, useNow } from '../../hub-context.tsx'
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
        <caption>Spot by spot, pH</caption>
        <thead>
          <tr>
            <th scope="col">Spot</th>
            <th scope="col">Probe</th>
            <th scope="col" class="n">
              Before
            </th>
            <th scope="col" class="n">
              After
            </th>
            <th scope="col" class="n">
              Change
            </th>
            <th scope="col">Verdict</th>
          </tr>
        </thead>
        <tbody>
          {event.spots.map((spot) => (
            <tr key={`${spot.spotId} ${spot.probe}`}>
              <td data-label="Spot">{spot.spot}</td>
              <td data-label="Probe">
                <Link to={{ page: 'probe', id: spot.probe }} class="id">
                  {spot.probe}
                </Link>
              </td>
              <td data-label="Before" class="n">
                {n(spot.before)}
              </td>
              <td data-label="After" class="n">
                {n(spot.before === null || spot.change === null ? null : spot.before + spot.change)}
              </td>
              <td data-label="Change" class="n">
                {signed(spot.change, 2, garden.units)}
              </td>
              <td data-label="Verdict">{spot.moved ? 'moved' : 'stayed'}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  )
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
  const left =
    event.state === 'open' && event.present !== null
      ? `, ${signed(event.present, 2, garden.units)} of it now`
      : ''
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
        <p class="faint">
          {event.form === 'step' ? 'Within hours' : 'Over days'}; {stateWords(event, garden)}
          {left}
          {event.withinPlan === false && '; more than one treatment should do'}.
        </p>
        <button type="button" class="quiet" onClick={() => onShow(event)}>
          Show on the chart<span class="unseen">, change of {when}</span>
        </button>
        {journalId !== null && (
          <button type="button" class="quiet" onClick={() => onEntry(journalId)}>
            Journal entry<span class="unseen"> behind the change of {when}</span>
          </button>
        )}
      </div>
      <Why of={`the change of ${when}`} grounds={event.grounds}>
        {event.firstCause !== event.cause && (
          <p>When it was noticed it looked like {CAUSE_WORDS[event.firstCause]}.</p>
        )}
        {event.otherBeds.length > 0 && (
          <p>Moved the same way within a day: {event.otherBeds.join(', ')}.</p>
        )}
        {event.spots.length > 0 && <SpotMoves event={event} />}
        <p class="faint">
          Noticed {dateTime(event.noticedAt, garden)}
          {event.decidedAt !== null && `, cause settled ${dateTime(event.decidedAt, garden)}`}.
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
      <summary>How often chance alone would look like a change</summary>
      <div class="scroll">
        <table class="stack">
          <caption>Each probe by its own unrest</caption>
          <thead>
            <tr>
              <th scope="col">Spot</th>
              <th scope="col">Probe</th>
              <th scope="col" class="n">
                Usual deviation of an hour, pH
              </th>
              <th scope="col" class="n">
                False signals a year
              </th>
            </tr>
          </thead>
          <tbody>
            {noise.map((row) => (
              <tr key={`${row.spot} ${row.probe}`}>
                <td data-label="Spot">{row.spot}</td>
                <td data-label="Probe">
                  <Link to={{ page: 'probe', id: row.probe }} class="id">
                    {row.probe}
                  </Link>
                </td>
                <td data-label="Usual deviation of an hour, pH" class="n">
                  {num(row.sd, 2, garden.units)}
                </td>
                <td data-label="False signals a year" class="n">
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
    <Finding id="changed" title="What changed">
      <p class="sentence">{changesSentence(events)}</p>
      {learning !== null && <NotYet {...learning} />}
      {shown.length > 0 && (
        <ol class="events" aria-label="Changes, newest first">
          {shown.map((event) => (
            <Event key={event.id} {...props} event={event} />
          ))}
        </ol>
      )}
      {events.length > AT_FIRST && (
        <p>
          <button type="button" aria-expanded={all} onClick={() => setAll(!all)}>
            {all ? `Show the newest ${AT_FIRST} only` : `Show all ${events.length} changes`}
          </button>
        </p>
      )}
      <Noise noise={noise} />
    </Finding>
  )
}
