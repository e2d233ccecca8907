import { files } from '../api.ts'
import { useHub } from '../hub-context.tsx'
import { ExportForm } from '../parts/data/export-form.tsx'
import { ImportFile } from '../parts/data/import-file.tsx'
import '../parts/data/data.css'

/** Readings and records in and out, and a copy of everything. */
export function DataView() {
  const { loaded } = useHub()
  if (!loaded) return <p class="quiet-line">Fetching the garden …</p>
  return (
    <>
      <div class="page-head">
        <h1>Data</h1>
      </div>
      <section class="sheet" aria-labelledby="data-in">
        <h2 id="data-in">Take readings in</h2>
        <p class="sentence">
          From a logger, another program or an earlier export. First you see how the file would be
          read; every row is checked before the first is stored, and the same file again changes
          nothing.
        </p>
        <ImportFile />
      </section>
      <section class="sheet" aria-labelledby="data-out">
        <h2 id="data-out">Take readings out</h2>
        <p class="sentence">
          Values as the probes sent them, in the units they were sent in. What a bed was worth by
          month is with its report.
        </p>
        <ExportForm />
      </section>
      <section class="sheet" aria-labelledby="backup">
        <h2 id="backup">Backup</h2>
        <p class="sentence">
          One file with every reading, the whole garden, its journal and photos, as they are at one
          moment; the hub goes on meanwhile. Of passwords it holds only what they are checked with,
          never the passwords. Keep it on another machine.
        </p>
        <p class="buttons">
          <a class="button main" href={files.backup} download>
            Download a backup
          </a>
        </p>
        <p class="sentence">
          To put it back: stop the hub, then{' '}
          <code>npm run loamline -- restore --from FILE.tar</code>, with <code>--replace</code> when
          the data folder is not empty. What was there is moved aside, not deleted.
        </p>
      </section>
    </>
  )
}
