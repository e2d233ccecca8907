import { files } from '../api.ts'
import { useHub } from '../hub-context.tsx'
import { ExportForm } from '../parts/data/export-form.tsx'
import { ImportFile } from '../parts/data/import-file.tsx'
import { Jobs } from '../parts/jobs/jobs.tsx'
import { say, toSay } from '../say.ts'
import { saying } from '../saying.ts'
import '../parts/data/data.css'

/** Readings and records in and out, and a copy of everything. */
export function DataView() {
  const { loaded } = useHub()
  if (!loaded) return <p class="quiet-line">{say`Fetching the garden …`}</p>
  return (
    <>
      <div class="page-head">
        <h1>{say`Data`}</h1>
      </div>
      <section data-needs="change" class="sheet" aria-labelledby="data-in">
        <h2 id="data-in">{say`Take readings in`}</h2>
        <p class="sentence">{say`From a logger, another program or an earlier export. First you see how the file would be read; every row is checked before the first is stored, and the same file again changes nothing.`}</p>
        <ImportFile />
      </section>
      <section class="sheet" aria-labelledby="data-out">
        <h2 id="data-out">{say`Take readings out`}</h2>
        <p class="sentence">{say`Values as the probes sent them, in the units they were sent in. What a bed was worth by month is with its report.`}</p>
        <ExportForm />
      </section>
      <section data-needs="change" class="sheet" aria-labelledby="backup">
        <h2 id="backup">{say`Backup`}</h2>
        <p class="sentence">{say`One file with every reading, the whole garden, its journal and photos, as they are at one moment; the hub goes on meanwhile. Of the passwords of people and probes it holds only what they are checked with; the password of your mail server and the keys of your routes for messages are in it as they are. Keep it on another machine, where nobody else reads it.`}</p>
        <p class="buttons">
          <a class="button main" href={files.backup} download>{say`Download a backup`}</a>
        </p>
        <p class="sentence">
          {saying(
            toSay(
              'To put it back: stop the hub, then {0}, with {1} when the data folder is not empty. What was there is moved aside, not deleted.',
            ),
            <code>npm run loamline -- restore --from FILE.tar</code>,
            <code>--replace</code>,
          )}
        </p>
      </section>
      <Jobs />
    </>
  )
}
