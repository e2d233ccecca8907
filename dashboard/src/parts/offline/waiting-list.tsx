import { useState } from 'preact/hooks'
import type { BedView } from '../../../../hub/api/schemas/bed.ts'
import type { Entry, EntryInput } from '../../../../hub/api/schemas/journal.ts'
import { JOURNAL_SIGNS } from '../../chart/paint.ts'
import { entryWords } from '../../entry-words.ts'
import { dateTime, JOURNAL_WORDS, num } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { said, say } from '../../say.ts'
import { useWaiting } from '../../use-waiting.ts'
import { sendWaiting, waitingQueue } from '../../waiting-here.ts'
import type { Waiting } from '../../waiting-store.ts'
import { Confirm } from '../form.tsx'
import { JournalForm } from '../journal-form.tsx'
import './waiting-list.css'

/** A waiting entry in the shape of a stored one, so that it reads and is changed alike. */
function asEntry(bedId: number, body: EntryInput): Entry {
  const { material = null, amountG = null, waterL = null, probe = null } = body
  const { ph = null, method = null, text = '', at, kind } = body
  return { id: 0, bedId, at, kind, material, amountG, waterL, probe, ph, method, text }
}

function Line({ item, bed }: { item: Waiting; bed: BedView }) {
  const { garden } = useHub()
  const [changing, setChanging] = useState(false)
  const { what, problem } = item
  const entry = what.kind === 'entry' ? asEntry(bed.id, what.body) : null
  const kind = entry?.kind ?? 'sample'
  const words =
    what.kind === 'entry'
      ? entryWords(asEntry(bed.id, what.body), garden.units)
      : what.body.values.length === 1
        ? say`pH ${num(what.body.values[0], 2, garden.units)}, measured in one spot`
        : say`pH measured in ${what.body.values.length} spots: ${what.body.values.map((ph) => num(ph, 2, garden.units)).join('; ')}`
  const when = dateTime(what.body.at, garden)
  const named = say`${said(JOURNAL_WORDS[kind])} of ${when}`
  const takeBack = async (): Promise<void> => {
    await (await waitingQueue()).takeBack(item)
    await sendWaiting()
  }
  return (
    <li data-waiting={item.id}>
      <span class="sign" aria-hidden="true">
        {JOURNAL_SIGNS[kind]}
      </span>
      <span>
        <time dateTime={new Date(what.body.at).toISOString()}>{when}</time>{' '}
        <strong>{said(JOURNAL_WORDS[kind])}</strong> {words}
        <br />
        {problem === null ? (
          <small class="faint">{say`waits on this device to be sent`}</small>
        ) : (
          <small class="error" role="alert">
            {say`The hub does not take it: ${problem.errors?.map(({ message }) => message).join('; ') ?? problem.detail ?? problem.title}`}
          </small>
        )}
      </span>
      <span class="buttons">
        {entry !== null && !changing && (
          <button
            type="button"
            class="quiet"
            aria-label={say`Change what waits: ${named}`}
            onClick={() => setChanging(true)}
          >
            {say`Change`}
          </button>
        )}
        {problem !== null && (
          <button type="button" class="quiet" onClick={() => void sendWaiting()}>
            {say`Send again`}
          </button>
        )}
        <Confirm
          words={say`Remove`}
          ask={say`Remove what waits, for good?`}
          onYes={() => void takeBack()}
        />
      </span>
      {changing && entry !== null && (
        <div class="waiting-form">
          <JournalForm bed={bed} entry={entry} waiting={item} onDone={() => setChanging(false)} />
        </div>
      )}
    </li>
  )
}

/** What was written down for a bed on this device and is not with the hub yet. */
export function WaitingList({ bed }: { bed: BedView }) {
  const mine = useWaiting().filter(({ bedId }) => bedId === bed.id)
  if (mine.length === 0) return null
  return (
    <ul class="waiting-list" aria-label={say`Waiting to be sent`}>
      {mine.map((item) => (
        <Line key={item.id} item={item} bed={bed} />
      ))}
    </ul>
  )
}
