import { parseArgs } from 'node:util'
import type { ReplayBed, ReplayResult } from '../alerts/replay.ts'
import { eventGrounds, eventSentence } from '../analysis/event-words.ts'
import { watchHours } from '../analysis/watch/watch-hours.ts'
import { loadConfig } from '../config/load.ts'
import { HubError } from '../errors.ts'
import { HOUR } from '../model/clock.ts'
import type { JournalEntry } from '../model/journal.ts'
import { hourAfter, loadReplayBeds, replayBed, replayInSlices } from '../jobs/replay-beds.ts'
import type { Manner } from '../model/manner.ts'
import { openStores } from '../store/open.ts'
import { inManner, PLAIN } from '../words/say.ts'
import { withProgress } from './progress.ts'
import { csvGarden } from './csv-garden.ts'
import { labelsOf, scoreAgainst } from './replay-labels.ts'
import type { CommandContext } from './main.ts'

const HELP = `Goes through a past again with the code that watches live, and tells what would have been raised and when.

  npm run loamline -- replay [--bed NAME] [--from DAY] [--to DAY] [--labels FILE] [--json]
      over the readings in the data folder (stop the hub first: one program holds the folder)
  npm run loamline -- replay --csv FILE --time COLUMN --ph COLUMN [--moisture COLUMN]
      [--temperature COLUMN] [--spot COLUMN] [--from DAY] [--to DAY] [--labels FILE] [--json]
      over a table of readings: moisture as volume, 0 to 1; temperature in degrees Celsius

  --bed NAME      only this bed; may be given again
  --from, --to    days such as 2026-03-01, UTC; what was raised earlier is gone through but not told
  --labels FILE   a table with the columns time, cause and, where known, size: how much of it was found
  --why           the grounds of each change
  --json          for other programs`

const OPTIONS = {
  bed: { type: 'string', multiple: true },
  from: { type: 'string' },
  to: { type: 'string' },
  csv: { type: 'string' },
  time: { type: 'string' },
  ph: { type: 'string' },
  moisture: { type: 'string' },
  temperature: { type: 'string' },
  spot: { type: 'string' },
  labels: { type: 'string' },
  why: { type: 'boolean' },
  json: { type: 'boolean' },
  help: { type: 'boolean', short: 'h' },
  config: { type: 'string' },
} as const

function bad(message: string): HubError {
  return new HubError('HUB_CONFIG', message, { retry: false })
}

function dayOf(name: string, text: string | undefined, otherwise: number): number {
  if (text === undefined) return otherwise
  const at = /^\d{4}-\d{2}-\d{2}$/.test(text) ? Date.parse(text) : NaN
  if (Number.isNaN(at)) throw bad(`--${name}: expected a day such as 2026-03-01, got '${text}'`)
  return at
}

interface Source {
  /** Of the garden in whose words it is told. */
  readonly manner: Manner
  readonly beds: readonly ReplayBed[]
  readonly journal: readonly JournalEntry[]
  readonly to: number
  readonly notes: readonly string[]
}

/** `replay`: see the help. */
export async function replayCommand({ env, configFile, args }: CommandContext): Promise<void> {
  let parsed
  try {
    parsed = parseArgs({ args: [...args], options: OPTIONS })
  } catch (error) {
    throw bad(`${(error as Error).message}\n\n${HELP}`)
  }
  const { values } = parsed
  if (values.help === true) {
    console.log(HELP)
    return
  }
  const from = dayOf('from', values.from, -Infinity)
  const source =
    values.csv === undefined
      ? await fromFolder(loadConfig(env, configFile).config.dataDir, values.bed ?? [])
      : fromCsv(values.csv, values)
  const to = Math.min(source.to, dayOf('to', values.to, Infinity))
  const begun = performance.now()
  const result = await withProgress('hours gone through', (at) =>
    inManner(source.manner, () => replayInSlices(source.beds, from, hourAfter(to), at)),
  )
  if (result === null) {
    console.error('Given up; a replay keeps nothing.')
    return
  }
  const seconds = (performance.now() - begun) / 1000
  const labels = values.labels === undefined ? null : labelsOf(values.labels)
  const score = labels === null ? null : scoreAgainst(labels, result.events)
  if (values.json === true) {
    console.log(JSON.stringify({ ...result, score }, null, 2))
    return
  }
  for (const note of source.notes) console.log(note)
  inManner(source.manner, () => print(source, result, values.why === true))
  if (score !== null) for (const line of score.lines) console.log(line)
  console.log(
    `${result.hours} hours of ${source.beds.length === 1 ? 'one bed' : `${source.beds.length} beds`} gone through in ${seconds.toFixed(1)} s.`,
  )
}

function fromCsv(
  file: string,
  values: {
    readonly time?: string
    readonly ph?: string
    readonly moisture?: string
    readonly temperature?: string
    readonly spot?: string
  },
): Source {
  if (values.time === undefined || values.ph === undefined) {
    throw bad('--csv needs --time COLUMN and --ph COLUMN, the columns that hold them')
  }
  const garden = csvGarden(file, {
    time: values.time,
    ph: values.ph,
    moisture: values.moisture ?? null,
    temperature: values.temperature ?? null,
    spot: values.spot ?? null,
  })
  const notes = [`${garden.bed.name}: ${garden.rows} rows, ${garden.spots.length} spot(s).`]
  if (garden.refusedCount > 0) {
    notes.push(`${garden.refusedCount} cells or rows could not be used, for example:`)
    for (const { line, reason } of garden.refused.slice(0, 5))
      notes.push(`  line ${line}: ${reason}`)
  }
  return {
    manner: PLAIN,
    beds: [replayBed(garden.bed, garden.spots, watchHours(garden.feeds), [], new Map())],
    journal: [],
    to: garden.feeds.to,
    notes,
  }
}

async function fromFolder(dataDir: string, names: readonly string[]): Promise<Source> {
  const stores = await openStores(dataDir)
  try {
    const { garden, readings } = stores
    const all = await garden.beds()
    const unknown = names.find((name) => !all.some((bed) => bed.name === name))
    if (unknown !== undefined) {
      throw bad(
        `--bed: there is no bed '${unknown}'; expected one of: ${all.map((b) => b.name).join(', ') || 'none'}`,
      )
    }
    const beds = names.length === 0 ? all : all.filter((bed) => names.includes(bed.name))
    if (beds.length === 0) throw bad('there is no bed in this garden yet')
    const now = Date.now()
    const { language, units } = await garden.garden()
    const loaded = await loadReplayBeds({ garden, readings }, beds, now)
    return { ...loaded, manner: { language, units }, to: now, notes: [] }
  } finally {
    await stores.close()
  }
}

function print({ beds, journal }: Source, result: ReplayResult, why: boolean): void {
  const date = (at: number): string => new Date(at).toISOString().slice(0, 16).replace('T', ' ')
  const names = {
    spots: new Map(beds.flatMap(({ spots }) => spots.map((s) => [s.id, s.name] as const))),
    beds: new Map(beds.map(({ folding }) => [folding.context.bed.id, folding.context.bed.name])),
    journal,
  }
  console.log(`\nChanges of level: ${result.events.length}`)
  for (const event of result.events) {
    const delay = Math.round((event.noticedAt - event.onset) / HOUR)
    console.log(
      `${date(event.onset)}  ${names.beds.get(event.bedId) ?? ''}: ${eventSentence(event, names)} (noticed ${delay} h after)`,
    )
    if (why)
      for (const line of eventGrounds(event, names)) console.log(`                    ${line}`)
  }
  console.log(`\nAlarms: ${result.alarms.filter(({ what }) => what === 'raised').length}`)
  for (const alarm of result.alarms) {
    console.log(`${date(alarm.at)}  ${alarm.what} ${alarm.kind}  ${alarm.sentence}`)
  }
  console.log('')
}
