import { useEffect, useRef, useState } from 'preact/hooks'
import type { BedView } from '../../../hub/api/schemas/bed.ts'
import type { Entry } from '../../../hub/api/schemas/journal.ts'
import { api } from '../api.ts'
import { JOURNAL_SIGNS } from '../chart/paint.ts'
import { entryWords } from '../entry-words.ts'
import { dateTime, JOURNAL_WORDS } from '../format.ts'
import { useHub } from '../hub-context.tsx'
import { midSentence, said, say } from '../say.ts'
import { FormProblem, useSend } from './field.tsx'
import { Confirm } from './form.tsx'
import { JournalForm } from './journal-form.tsx'
import { WaitingList } from './offline/waiting-list.tsx'
import { EntryPhoto } from './plan/entry-photo.tsx'

/** Entries shown before asking for all. */
const AT_FIRST = 6

const kindOf = (entry: Entry): string => midSentence(said(JOURNAL_WORDS[entry.kind]))

interface JournalProps {
  readonly bed: BedView
  readonly entries: readonly Entry[]
  /** Entries that have a photo. */
  readonly photos: readonly number[]
  readonly highlighted: Entry | null
  readonly onHighlight: (entry: Entry | null) => void
  /** Entry to go to; a new object asks once more. */
  readonly wanted: { readonly entry: number } | null
}

/** The entries of the stretch of time the charts show, in step with them. */
export function Journal({ bed, entries, photos, highlighted, onHighlight, wanted }: JournalProps) {
  const { garden } = useHub()
  const [editing, setEditing] = useState<Entry | 'new' | null>(null)
  const { problem, send } = useSend()
  const [all, setAll] = useState(false)
  const list = useRef<HTMLOListElement>(null)
  const reached = useRef<JournalProps['wanted']>(null)
  useEffect(() => {
    if (wanted === null || reached.current === wanted) return
    const line = list.current?.querySelector<HTMLElement>(`[data-entry="${wanted.entry}"] button`)
    if (line === null || line === undefined) {
      setAll(true)
      return
    }
    reached.current = wanted
    line.focus()
    line.scrollIntoView({ block: 'center' })
  }, [wanted, entries, all])
  const sorted = entries.toSorted((a, b) => b.at - a.at)
  const newestFirst = all ? sorted : sorted.slice(0, AT_FIRST)
  return (
    <section class="sheet" aria-labelledby="journal-title">
      <div class="section-head">
        <h2 id="journal-title" tabIndex={-1}>{say`Journal`}</h2>
        {editing === null && (
          <button
            data-needs="change"
            type="button"
            onClick={() => setEditing('new')}
          >{say`Write an entry`}</button>
        )}
      </div>
      <WaitingList bed={bed} />
      {editing === 'new' && <JournalForm bed={bed} entry={null} onDone={() => setEditing(null)} />}
      <FormProblem problem={problem} fields={[]} />
      {newestFirst.length === 0 && (
        <p class="faint">{say`Nothing written in this stretch of time.`}</p>
      )}
      <ol class="journal" ref={list}>
        {newestFirst.map((entry) => (
          <li
            key={entry.id}
            class={entry.id === highlighted?.id ? 'lit' : ''}
            data-entry={entry.id}
          >
            <button
              type="button"
              class="entry-line"
              onFocus={() => onHighlight(entry)}
              onBlur={() => onHighlight(null)}
              onMouseEnter={() => onHighlight(entry)}
              onMouseLeave={() => onHighlight(null)}
              onClick={() => onHighlight(entry)}
            >
              <span class="sign" aria-hidden="true">
                {JOURNAL_SIGNS[entry.kind]}
              </span>
              <time dateTime={new Date(entry.at).toISOString()}>{dateTime(entry.at, garden)}</time>
              <span class="said">
                <strong>{said(JOURNAL_WORDS[entry.kind])}</strong> {entryWords(entry, garden.units)}
                {typeof entry.by === 'string' && <small class="faint"> · {entry.by}</small>}
              </span>
            </button>
            <span>
              <button
                data-needs="change"
                type="button"
                class="quiet"
                aria-label={say`Change ${kindOf(entry)} of ${dateTime(entry.at, garden)}`}
                onClick={() => setEditing(entry)}
              >{say`Change`}</button>
              <Confirm
                words={say`Remove`}
                ask={say`Remove this entry for good?`}
                onYes={() => send(async () => void (await api.removeEntry(entry.id)))}
              />
            </span>
            {photos.includes(entry.id) && (
              <div class="photo-line">
                <EntryPhoto
                  entry={entry.id}
                  of={say`${kindOf(entry)} of ${dateTime(entry.at, garden)}`}
                />
                <Confirm
                  words={say`Remove the photo`}
                  ask={say`Remove this photo for good?`}
                  onYes={() => send(async () => void (await api.removePhoto(entry.id)))}
                />
              </div>
            )}
            {editing !== null && editing !== 'new' && editing.id === entry.id && (
              <div style={{ gridColumn: '1 / -1' }}>
                <JournalForm bed={bed} entry={entry} onDone={() => setEditing(null)} />
              </div>
            )}
          </li>
        ))}
      </ol>
      {sorted.length > newestFirst.length && (
        <button
          type="button"
          onClick={() => setAll(true)}
        >{say`Show all ${sorted.length} entries of this time`}</button>
      )}
    </section>
  )
}
