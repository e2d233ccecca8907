import type { BedView } from '../../../../hub/api/schemas/bed.ts'
import { JOURNAL_SIGNS } from '../../chart/paint.ts'
import { entryWords } from '../../entry-words.ts'
import { clockTime, JOURNAL_WORDS, localeOf } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { said, say } from '../../say.ts'
import { Link } from '../link.tsx'
import type { DiaryDay } from './diary-rows.ts'

interface DiaryDayProps {
  readonly day: DiaryDay
  /** 'YYYY-MM-DD' */
  readonly today: string
  readonly beds: readonly BedView[]
}

/** One row of the month: the date, what was done, what is planned. */
export function DiaryDayRow({ day, today, beds }: DiaryDayProps) {
  const { garden } = useHub()
  const name = (id: number | null): string | null =>
    id === null ? null : (beds.find((bed) => bed.id === id)?.name ?? null)
  const words = new Intl.DateTimeFormat(localeOf(garden.units), {
    weekday: 'short',
    day: 'numeric',
    month: 'short',
    timeZone: 'UTC',
  }).format(new Date(`${day.day}T00:00Z`))
  return (
    <tr data-day={day.day} class={day.day === today ? 'today' : ''}>
      <th scope="row">
        <time dateTime={day.day}>{words}</time>
        {day.day === today && <span class="faint"> {say`today`}</span>}
      </th>
      <td data-label={say`Done`}>
        {day.entries.length > 0 && (
          <ul class="diary-list">
            {day.entries.map((entry) => (
              <li key={entry.id}>
                <span class="sign" aria-hidden="true">
                  {JOURNAL_SIGNS[entry.kind]}
                </span>{' '}
                <span>
                  <strong>{said(JOURNAL_WORDS[entry.kind])}</strong>{' '}
                  {entryWords(entry, garden.units)}
                  <span class="faint">
                    {' · '}
                    {name(entry.bedId) === null ? (
                      say`a bed no longer in use`
                    ) : (
                      <Link to={{ page: 'bed', id: entry.bedId }}>{name(entry.bedId)}</Link>
                    )}
                    {' · '}
                    {clockTime(entry.at, garden)}
                    {entry.by !== undefined && entry.by !== null && ` · ${entry.by}`}
                  </span>
                </span>
              </li>
            ))}
          </ul>
        )}
      </td>
      <td data-label={day.day < today ? say`Was planned` : say`Planned`}>
        {day.ahead.length > 0 && (
          <ul class="diary-list">
            {day.ahead.map((one) => (
              <li key={one.key}>
                <span class="sign" aria-hidden="true">
                  ◇
                </span>{' '}
                <details>
                  <summary>
                    {one.summary}
                    {day.day < today && <span class="faint"> {say`not done yet`}</span>}
                  </summary>
                  <p class="sentence">{one.text}</p>
                  {one.bedId !== null && name(one.bedId) !== null && (
                    <p class="links">
                      {one.kind === 'calibrate' ? (
                        <Link to={{ page: 'probes' }}>{say`To the probes`}</Link>
                      ) : (
                        <Link
                          to={{ page: 'plan', id: one.bedId }}
                        >{say`To the plan of ${name(one.bedId)!}`}</Link>
                      )}
                    </p>
                  )}
                  {one.kind === 'trial ends' && (
                    <p class="links">
                      <Link to={{ page: 'trials' }}>{say`To the trials`}</Link>
                    </p>
                  )}
                </details>
              </li>
            ))}
          </ul>
        )}
      </td>
    </tr>
  )
}
