import { createReadStream } from 'node:fs'
import { open, stat } from 'node:fs/promises'
import { Readable } from 'node:stream'
import { importMap, importReport } from '../api/schemas/transfer.ts'
import { loadConfig } from '../config/load.ts'
import type { Stores } from '../store/open.ts'
import { checkImport } from '../transfer/check-import.ts'
import { guessMap, type FirstLook } from '../transfer/guess-map.ts'
import { DELIMITERS, type ImportMap } from '../transfer/import-map.ts'
import type { ImportReport } from '../transfer/import-report.ts'
import { storeImport } from '../transfer/store-import.ts'
import { TIME_FORMATS } from '../transfer/read-time.ts'
import { HubError } from '../errors.ts'
import { followRequest } from './ask-job.ts'
import { folderOrHub } from './folder-or-hub.ts'
import type { CommandContext } from './main.ts'
import { oneLine } from './plain-text.ts'
import { withProgress, type AtWork } from './progress.ts'
import { badOption, readOptions } from './options.ts'

const HELP = `Takes readings in from a table (CSV), from InfluxDB line protocol or from SenML in JSON (RFC 8428), whether the hub
runs or not.

  npm run loamline -- import FILE [--dry-run] [--map COLUMN=CHANNEL[:UNIT]] [--time COLUMN] [--probe ID] ...

What the file shows by itself need not be said; a file this hub exported needs nothing at all. With --dry-run nothing is
stored, and it is told how the file would be read. Every row is checked first: when one is bad, nothing of the file is
stored. The same file again changes nothing.

  --map COLUMN=CHANNEL[:UNIT]   a column with values, the channel they go to, and their unit in the file; for each one
  --time COLUMN, --time-format ${TIME_FORMATS.join('|')}
  --zone ZONE                   time zone of times without an offset; the garden's is the default
  --probe ID | --probe-column COLUMN
  --channel-column, --value-column, --unit-column COLUMN   a table with one value a row
  --delimiter comma|semicolon|tab|bar, --decimal .|,, --no-headings (columns are then #1, #2 ...)
  --precision ns|us|ms|s        of line protocol`

const DELIMITER_WORDS = ['comma', 'semicolon', 'tab', 'bar'] as const
/** Share of the work that looking at every row is, about. */
const CHECKING = 0.5
/** Enough to guess by. */
const LOOK_BYTES = 64 * 1024

const OPTIONS = {
  'dry-run': { type: 'boolean', default: false },
  map: { type: 'string', multiple: true },
  time: { type: 'string' },
  'time-format': { type: 'string' },
  zone: { type: 'string' },
  probe: { type: 'string' },
  'probe-column': { type: 'string' },
  'channel-column': { type: 'string' },
  'value-column': { type: 'string' },
  'unit-column': { type: 'string' },
  delimiter: { type: 'string' },
  decimal: { type: 'string' },
  'no-headings': { type: 'boolean', default: false },
  precision: { type: 'string' },
  help: { type: 'boolean', short: 'h' },
  config: { type: 'string' },
} as const

type Given = ReturnType<typeof optionsOf>['values']
const optionsOf = (args: readonly string[]) =>
  readOptions({ args: [...args], allowPositionals: true, options: OPTIONS }, HELP)

interface Result {
  readonly report: Omit<ImportReport, 'preview'> & { readonly preview: readonly unknown[] }
  readonly stored: number | null
  /** How many are new. */
  readonly fresh?: number
}

/** `import`: see the help. */
export async function importCommand({ env, configFile, args }: CommandContext): Promise<void> {
  const { values, positionals } = optionsOf(args)
  if (values.help === true) {
    console.log(HELP)
    return
  }
  const [file, ...more] = positionals
  if (file === undefined || more.length > 0) {
    throw badOption(`expected one file, got '${positionals.join(' ')}'\n\n${HELP}`)
  }
  const dry = values['dry-run']
  const { config } = loadConfig(env, configFile)
  const start = await beginning(file)
  const size = (await stat(file)).size
  const work = (at: AtWork): Promise<Result> =>
    folderOrHub<Result>(config, {
      make: true,
      folder: async (stores) => {
        const { zone } = await stores.garden.garden()
        const map = mapOf(await guessMap(start, values.zone ?? zone, saidOf(values)), values)
        const deps = { ...stores, clock: Date.now }
        const source = readWith(file, (bytes) => at.tell((CHECKING * bytes) / size))
        if (dry) {
          const { report } = await checkImport(source, map, deps, undefined, at.signal)
          return { report, stored: null }
        }
        const outcome = await storeImport(source, map, deps, {
          signal: at.signal,
          onStored: (done, of) => at.tell(CHECKING + ((1 - CHECKING) * done) / of),
        })
        if (outcome.from !== null) await forget(stores, outcome.report, outcome.from)
        return outcome
      },
      hub: async (ask) => {
        const { zone } = (await (await ask('/api/garden')).json()) as { zone: string }
        const map = mapOf(await guessMap(start, values.zone ?? zone, saidOf(values)), values)
        const asked = ask(
          `/api/import/${dry ? 'check' : 'store'}?map=${encodeURIComponent(JSON.stringify(map))}`,
          {
            method: 'POST',
            headers: {
              'content-type': 'application/octet-stream',
              // With its length the hub can say how far it is.
              'content-length': String(size),
            },
            body: Readable.toWeb(createReadStream(file)),
            duplex: 'half',
          },
        )
        const response = await (dry ? asked : followRequest(ask, 'import', asked, at))
        const answer = importReport.parse(await response.json())
        return { report: answer, stored: answer.stored }
      },
    })
  const result = await withProgress('of the file', (at) =>
    work(at).catch((error: unknown) => {
      if (at.signal.aborted && !(error instanceof HubError)) return null
      throw error
    }),
  )
  if (result === null) {
    console.error('Given up: nothing was stored.')
    return
  }
  const { report, stored, fresh } = result
  if (stored !== null && fresh !== undefined && stored < fresh) {
    console.error(
      `Given up: ${stored} of ${fresh} new readings are stored. The same file again brings the rest.`,
    )
    return
  }
  tell(report, stored, dry)
  if (report.badCount > 0) process.exitCode = 2
}

async function beginning(file: string): Promise<Uint8Array> {
  try {
    const handle = await open(file)
    try {
      const { buffer, bytesRead } = await handle.read(Buffer.alloc(LOOK_BYTES), 0, LOOK_BYTES, 0)
      const start = buffer.subarray(0, bytesRead)
      // A row that was cut through is none.
      return bytesRead < LOOK_BYTES
        ? start
        : start.subarray(0, start.lastIndexOf(10) + 1 || LOOK_BYTES)
    } finally {
      await handle.close()
    }
  } catch (error) {
    throw badOption(`cannot read ${file}: ${(error as Error).message}`)
  }
}

/** What need not be guessed. */
function saidOf(given: Given) {
  const word = DELIMITER_WORDS.findIndex((name) => name === given.delimiter)
  if (given.delimiter !== undefined && word < 0) {
    throw badOption(
      `--delimiter: expected one of ${DELIMITER_WORDS.join(', ')}, got '${given.delimiter}'`,
    )
  }
  return {
    ...(word < 0 ? {} : { delimiter: DELIMITERS[word]! }),
    ...(given['no-headings'] ? { headings: false } : {}),
  }
}

/** The guess, with what was said instead. */
function mapOf({ map: guess }: FirstLook, given: Given): ImportMap {
  const channels = given.map?.map((text) => {
    const found = /^(.+)=([^=:]+)(?::(.*))?$/.exec(text)
    if (found === null) throw badOption(`--map: expected COLUMN=CHANNEL[:UNIT], got '${text}'`)
    return { column: found[1]!, channel: found[2]!, unit: found[3] ?? '', senses: null }
  })
  const probe =
    given.probe !== undefined
      ? { id: given.probe }
      : given['probe-column'] !== undefined
        ? { column: given['probe-column'] }
        : guess.probe
  const common = { probe, channels: channels ?? guess.channels }
  if (guess.layout === 'senml') return checked({ ...guess, ...common })
  if (guess.layout === 'lines') {
    return checked({ ...guess, ...common, precision: given.precision ?? guess.precision })
  }
  const base = {
    ...common,
    delimiter: guess.delimiter,
    decimal: given.decimal ?? guess.decimal,
    headings: guess.headings,
    time: {
      column: given.time ?? guess.time.column,
      format: given['time-format'] ?? guess.time.format,
      zone: given.zone ?? guess.time.zone,
    },
  }
  const channelColumn =
    given['channel-column'] ?? (guess.layout === 'long' ? guess.channelColumn : undefined)
  const valueColumn =
    given['value-column'] ?? (guess.layout === 'long' ? guess.valueColumn : undefined)
  if (channelColumn !== undefined && valueColumn !== undefined) {
    const unitColumn = given['unit-column'] ?? (guess.layout === 'long' ? guess.unitColumn : null)
    return checked({ layout: 'long', ...base, channelColumn, valueColumn, unitColumn })
  }
  return checked({ layout: 'wide', ...base })
}

function checked(map: unknown): ImportMap {
  const result = importMap.safeParse(map)
  if (result.success) return result.data
  const { path, message } = result.error.issues[0]!
  const what = path[0] === 'probe' ? '--probe or --probe-column' : path.join('.')
  throw badOption(`how the file is read is not clear yet: ${what}: ${message}\n\n${HELP}`)
}

/**
 * What the watch remembers of the beds these probes sat in no longer holds from then on; the hub goes through it again
 * when it starts.
 */
async function forget(
  { garden, memory }: Stores,
  report: ImportReport,
  from: number,
): Promise<void> {
  const probes = new Set(report.probes.map(({ id }) => id))
  const bedOf = new Map((await garden.spots()).map(({ id, bedId }) => [id, bedId]))
  const beds = new Set(
    (await garden.placements()).flatMap(({ probe, spotId }) =>
      probes.has(probe) ? (bedOf.get(spotId) ?? []) : [],
    ),
  )
  for (const bed of beds) await memory.rememberWatch(bed, { from, states: [], days: [] })
}

/** The bytes of a file; says how many were read. */
async function* readWith(file: string, told: (bytes: number) => void): AsyncGenerator<Uint8Array> {
  let bytes = 0
  for await (const piece of createReadStream(file) as AsyncIterable<Buffer>) {
    bytes += piece.length
    told(bytes)
    yield piece
  }
}

function tell(report: Result['report'], stored: number | null, dry: boolean): void {
  for (const p of report.probes) {
    const span = [p.from, p.to].map((at) => new Date(at).toISOString()).join(' to ')
    const channels = p.channels.map(({ name, unit }) => (unit === '' ? name : `${name} (${unit})`))
    console.log(
      `${p.id}${p.isNew ? ' (new)' : ''}: ${p.readings} readings, ${span}, ${channels.join(', ')}`,
    )
  }
  for (const { line, column, expected, got } of report.bad) {
    const where = column === null ? `line ${line}` : `line ${line}, ${column}`
    console.error(oneLine(`${where}: expected ${expected}, got '${got}'`))
  }
  if (report.badCount > report.bad.length) {
    console.error(`... and ${report.badCount - report.bad.length} more`)
  }
  const all = `${report.rows} rows, ${report.readings} readings, ${report.present} of them stored already.`
  if (report.badCount > 0) {
    console.error(`${all} ${report.badCount} rows cannot be used: nothing was stored.`)
  } else console.log(`${all} ${dry ? 'Nothing was stored.' : `${stored ?? 0} stored now.`}`)
}
