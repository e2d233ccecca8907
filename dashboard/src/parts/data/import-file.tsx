import { useEffect, useState } from 'preact/hooks'
import type { FirstLookView, ImportReportView } from '../../../../hub/api/schemas/transfer.ts'
import { problemOf } from '../../ask.ts'
import { api } from '../../api.ts'
import { whole } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { beginningOf, draftOf, mapOf } from '../../import-draft.ts'
import type { ImportDraft } from '../../import-draft.ts'
import { errorFor } from '../../problem.ts'
import { say, toSay } from '../../say.ts'
import { saying } from '../../saying.ts'
import { FormProblem, useSend } from '../field.tsx'
import { Link } from '../link.tsx'
import { ImportColumns } from './import-columns.tsx'
import { BadRows, ImportPreview, ImportSummary } from './import-outcome.tsx'
import { sendFile } from './send-file.ts'

const LOOK_BYTES = 64 * 1024
/** What the hub takes. */
const MOST_BYTES = 64 * 1024 * 1024
const PREVIEW_AFTER_MS = 400
const FIELDS = [
  'probeId',
  'map.probe',
  'timeColumn',
  'channelColumn',
  'valueColumn',
  'columns',
  'map.time.zone',
]

interface Chosen {
  readonly file: File
  readonly look: FirstLookView
}

/** Takes readings in from a file: chosen, explained, looked through, then stored in one go. */
export function ImportFile() {
  const { garden, refresh } = useHub()
  const [chosen, setChosen] = useState<Chosen | null>(null)
  const [draft, setDraft] = useState<ImportDraft | null>(null)
  const [preview, setPreview] = useState<ImportReportView | null>(null)
  const [checked, setChecked] = useState<ImportReportView | null>(null)
  /** A new round has a file input of its own: the same file can be chosen again. */
  const [round, setRound] = useState(0)
  const [share, setShare] = useState<number | null>(null)
  const { problem, busy, send, refuse } = useSend()

  const look = (file: File, delimiter?: string): void =>
    send(async () => {
      const seen = await api.lookAtFile(await beginningOf(file, LOOK_BYTES), delimiter)
      setChosen({ file, look: seen })
      setDraft(draftOf(seen, garden.zone))
    })
  const change = (next: ImportDraft): void => {
    setChecked(null)
    // Other columns: the form begins anew.
    if (chosen !== null && draft !== null && next.delimiter !== draft.delimiter) {
      look(chosen.file, next.delimiter)
    } else setDraft(next)
  }
  const choose = (file: File | undefined): void => {
    setChosen(null)
    setDraft(null)
    setPreview(null)
    setChecked(null)
    if (file === undefined) return
    if (file.size > MOST_BYTES) {
      refuse([{ path: '', message: say`expected a file of at most 64 MiB; cut it in parts` }])
      return
    }
    look(file)
  }

  // The first rows follow every answer.
  useEffect(() => {
    const map = draft === null ? null : mapOf(draft).map
    if (chosen === null || map === null) {
      setPreview(null)
      return
    }
    let late = false
    const timer = setTimeout(() => {
      beginningOf(chosen.file, LOOK_BYTES)
        .then((start) => sendFile('check', start, map, () => {}))
        .then(
          (report) => {
            if (!late) setPreview(report)
          },
          (error: unknown) => {
            problemOf(error)
            if (!late) setPreview(null)
          },
        )
    }, PREVIEW_AFTER_MS)
    return () => {
      late = true
      clearTimeout(timer)
    }
  }, [chosen, draft])

  const run = (what: 'check' | 'store'): void => {
    if (chosen === null || draft === null) return
    const { map, errors } = mapOf(draft)
    if (map === null) return refuse(errors)
    setShare(0)
    send(async () => {
      try {
        setChecked(await sendFile(what, chosen.file, map, setShare))
        if (what === 'store') await refresh('probes', 'beds', 'health')
      } finally {
        setShare(null)
      }
    })
  }
  const stored = checked?.stored ?? null
  const fresh = checked === null ? 0 : checked.readings - checked.present
  const shown = checked ?? preview
  return (
    <form
      aria-label={say`Take readings in`}
      noValidate
      onSubmit={(event) => {
        event.preventDefault()
        if (!busy) run('check')
      }}
    >
      <div class="field long">
        <label>
          {say`File with readings`}
          <input
            key={round}
            type="file"
            accept=".csv,.tsv,.txt,.lp,.json,.senml,text/*,application/json,application/senml+json"
            onChange={(event) => choose(event.currentTarget.files?.[0])}
          />
        </label>
        <small class="hint">{say`a table (CSV), InfluxDB line protocol or SenML (JSON), at most 64 MiB`}</small>
      </div>
      <FormProblem problem={problem} fields={FIELDS} />
      {chosen !== null && draft !== null && (
        <>
          {stored === null && (
            <ImportColumns
              draft={draft}
              columns={chosen.look.columns}
              rows={chosen.look.rows}
              error={(path) => errorFor(problem, path)}
              onChange={change}
            />
          )}
          {stored === null && shown !== null && <ImportPreview report={shown} />}
          {checked === null && preview !== null && <BadRows report={preview} />}
          {checked !== null && stored === null && (
            <>
              <ImportSummary report={checked} />
              <BadRows report={checked} />
            </>
          )}
          {share !== null && (
            <p role="status" class="progress-line">
              <progress max={1} value={share} aria-label={say`Looked at`} />{' '}
              {share < 1
                ? say`${Math.floor(share * 100)} % looked at`
                : say`all sent; the hub is at work …`}
            </p>
          )}
          {stored !== null && (
            <p role="status" class="sentence" data-testid="import-done">
              {stored === 0
                ? say`Nothing was new: every reading of this file is stored already.`
                : say`${whole(stored, garden.units)} readings stored.`}{' '}
              {checked?.probes
                .filter(({ isNew }) => isNew)
                .map(({ id }) => (
                  <span key={id}>
                    {saying(
                      toSay('{0}, so that its readings count for a bed.'),
                      <Link to={{ page: 'probe', id }}>{say`Say in which spot ${id} sat`}</Link>,
                    )}{' '}
                  </span>
                ))}
            </p>
          )}
          {stored !== null && (
            <p class="buttons">
              <button
                type="button"
                onClick={() => {
                  choose(undefined)
                  setRound((n) => n + 1)
                }}
              >{say`Another file`}</button>
            </p>
          )}
          {stored === null && (
            <p class="buttons">
              <button type="submit" aria-disabled={busy}>{say`Check the whole file`}</button>
              {checked !== null && checked.badCount === 0 && (
                <button
                  type="button"
                  class="main"
                  aria-disabled={busy}
                  onClick={() => {
                    if (!busy) run('store')
                  }}
                >{say`Store ${whole(fresh, garden.units)} readings`}</button>
              )}
            </p>
          )}
        </>
      )}
    </form>
  )
}
