import { useMemo, useState } from 'preact/hooks'
import { api, files } from '../api.ts'
import { entryWords } from '../entry-words.ts'
import { JOURNAL_WORDS, localeOf } from '../format.ts'
import { useHub, useLoad, useNow } from '../hub-context.tsx'
import { DiaryDayRow } from '../parts/diary/diary-day.tsx'
import { diaryDays } from '../parts/diary/diary-rows.ts'
import {
  dayText,
  edgesOf,
  monthFrom,
  monthOf,
  monthsFrom,
  monthText,
} from '../parts/diary/month.ts'
import type { Month } from '../parts/diary/month.ts'
import { Choice, Field } from '../parts/field.tsx'
import { JournalForm } from '../parts/journal-form.tsx'
import { Link } from '../parts/link.tsx'
import type { Route } from '../router.ts'
import { said, say } from '../say.ts'
import { go } from '../use-route.ts'
import '../parts/diary/diary.css'

type JournalRoute = Extract<Route, { readonly page: 'journal' }>

/** The garden's journal, month by month: what was done, and what is planned. */
export function JournalView(route: JournalRoute) {
  const { garden, beds, journalTicks, loaded } = useHub()
  const now = useNow(60_000)
  const { zone, units } = garden
  const shown = monthFrom(route.month) ?? monthOf(now, zone)
  const { from, to } = edgesOf(shown, zone)
  const ticks = Object.values(journalTicks).reduce((sum, n) => sum + n, 0)
  const entries = useLoad(
    loaded ? `${zone} ${monthText(shown)}` : null,
    (signal) => api.wholeJournal({ from, to }, signal),
    ticks,
  )
  const ahead = useLoad(loaded ? 'ahead' : null, (signal) => api.ahead(signal), ticks)
  const [writing, setWriting] = useState<number | 'choose' | null>(null)
  const bed = beds.some(({ id }) => id === route.bed) ? route.bed! : null
  const kind = route.kind ?? null
  // Kept out of the address while it is typed: the back button leads to another page, not to half a word.
  const [text, setText] = useState(route.text ?? '')
  const days = useMemo(
    () =>
      diaryDays(
        entries.data ?? [],
        (ahead.data ?? []).filter(({ day }) => day.startsWith(monthText(shown))),
        zone,
        { bed, kind, text },
        (entry) => `${said(JOURNAL_WORDS[entry.kind])} ${entryWords(entry, units)}`,
      ),
    [entries.data, ahead.data, zone, units, bed, kind, text, monthText(shown)],
  )
  const change = (to: Partial<Omit<JournalRoute, 'page'>>): void => go({ ...route, ...to })
  const monthWords = ({ year, month }: Month): string =>
    new Intl.DateTimeFormat(localeOf(units), {
      month: 'long',
      year: 'numeric',
      timeZone: 'UTC',
    }).format(Date.UTC(year, month - 1, 1))
  const turned = (by: number): JournalRoute => ({
    ...route,
    month: monthText(monthsFrom(shown, by)),
  })
  const problem = entries.problem ?? ahead.problem
  const chosen = beds.find(({ id }) => id === writing)
  return (
    <>
      <div class="page-head">
        <h1>{say`Journal`}</h1>
        {beds.length > 0 && writing === null && (
          <button
            data-needs="change"
            type="button"
            onClick={() => setWriting(bed ?? (beds.length === 1 ? beds[0]!.id : 'choose'))}
          >{say`Write an entry`}</button>
        )}
      </div>
      {writing !== null && (
        <section class="sheet" aria-label={say`New journal entry`}>
          <Choice
            label={say`Bed`}
            value={chosen === undefined ? '' : String(chosen.id)}
            options={[
              ...(chosen === undefined ? [{ value: '', words: say`choose a bed` }] : []),
              ...beds.map(({ id, name }) => ({ value: String(id), words: name })),
            ]}
            onChange={(value) => setWriting(Number(value))}
          />
          {chosen === undefined ? (
            <p class="buttons">
              <button type="button" onClick={() => setWriting(null)}>{say`Cancel`}</button>
            </p>
          ) : (
            <JournalForm
              key={chosen.id}
              bed={chosen}
              entry={null}
              onDone={() => {
                setWriting(null)
                entries.reload()
                ahead.reload()
              }}
            />
          )}
        </section>
      )}
      <section class="sheet" aria-labelledby="month">
        <form class="diary-bar" role="search" onSubmit={(event) => event.preventDefault()}>
          <Choice
            label={say`Bed`}
            value={bed === null ? '' : String(bed)}
            options={[
              { value: '', words: say`all beds` },
              ...beds.map(({ id, name }) => ({ value: String(id), words: name })),
            ]}
            onChange={(value) => change({ bed: value === '' ? undefined : Number(value) })}
          />
          <Choice
            label={say`Kind`}
            value={kind ?? ''}
            options={[
              { value: '', words: say`everything` },
              ...Object.entries(JOURNAL_WORDS).map(([value, words]) => ({
                value,
                words: said(words),
              })),
              { value: 'ahead', words: say`only what is planned` },
            ]}
            onChange={(value) => change({ kind: value === '' ? undefined : value })}
          />
          <Field label={say`Words in it`} value={text} onInput={setText} />
        </form>
        <div class="diary-turn">
          <h2 id="month" aria-live="polite">
            {monthWords(shown)}
          </h2>
          <Link to={turned(-1)} class="button">
            {say`Earlier`}
          </Link>
          <Link to={turned(1)} class="button">
            {say`Later`}
          </Link>
          {monthText(shown) !== monthText(monthOf(now, zone)) && (
            <Link to={{ ...route, month: undefined }}>{say`This month`}</Link>
          )}
        </div>
        {problem !== null && (
          <p class="error" role="alert">
            {say`Could not be fetched: ${problem.detail ?? problem.title}.`}{' '}
            <button
              type="button"
              onClick={() => {
                entries.reload()
                ahead.reload()
              }}
            >{say`Fetch again`}</button>
          </p>
        )}
        {entries.data === null && problem === null && (
          <p class="quiet-line">{say`Fetching the journal …`}</p>
        )}
        {entries.data !== null && days.length === 0 && (
          <p class="sentence">
            {bed !== null || kind !== null || text !== ''
              ? say`Nothing of that in this month.`
              : say`Nothing written and nothing planned in this month.`}
          </p>
        )}
        {days.length > 0 && (
          <table class="diary stack">
            <caption class="unseen">{say`Days with something on them`}</caption>
            <thead>
              <tr>
                <th scope="col">{say`Day`}</th>
                <th scope="col">{say`Done`}</th>
                <th scope="col">{say`Planned`}</th>
              </tr>
            </thead>
            <tbody>
              {days.map((day) => (
                <DiaryDayRow key={day.day} day={day} today={dayText(now, zone)} beds={beds} />
              ))}
            </tbody>
          </table>
        )}
        <p class="diary-more">
          <a href={files.calendar}>{say`What is planned, for your calendar program`}</a>
          <Link to={{ page: 'review' }}>{say`What treatments were worth`}</Link>
        </p>
      </section>
    </>
  )
}
