import type { JobView } from '../api/schemas/job.ts'
import type { StorageView, ThinningView } from '../api/schemas/storage.ts'
import { storageView, thinningView } from '../api/views/storage.ts'
import { bytesText } from '../alerts/storage-words.ts'
import { loadConfig } from '../config/load.ts'
import { HubError } from '../errors.ts'
import { diskOf } from '../assembly/hub-facts.ts'
import { thinReadings, upkeepOf } from '../jobs/thin-readings.ts'
import { LEAST_RAW_MONTHS, MOST_RAW_MONTHS } from '../model/storage.ts'
import type { Stores } from '../store/open.ts'
import { rawBefore } from '../store/retention/raw-before.ts'
import { folderBytes } from '../assembly/wire-storage.ts'
import { followJob } from './ask-job.ts'
import { folderOrHub, type AskHub } from './folder-or-hub.ts'
import type { CommandContext } from './main.ts'
import { badOption, readOptions } from './options.ts'
import { withProgress } from './progress.ts'

const HELP = `Says how much there is on the disk, how it grows and when the disk is full, whether the hub runs or not.

  npm run loamline -- storage [options]

  --would-thin MONTHS   what would go if raw readings older than that became hours; changes nothing
  --keep-raw MONTHS     keep raw readings for so long (${LEAST_RAW_MONTHS} to ${MOST_RAW_MONTHS}), or 'for-ever', which is the default;
                        what is older becomes hours every night, and with this command at once
  --backup-made         said with --keep-raw MONTHS: readings that became hours come back from a backup alone
  --compact             give emptied space of the file of readings back to the disk

Hours keep the lowest, the mean, the median and the highest value of every channel as it was measured electrically, and
how many there were; calibrations go on applying to them. Long work can be given up with Ctrl-C: what was done stays.`

/** `storage`: see the help. */
export async function storageCommand({ env, configFile, args }: CommandContext): Promise<void> {
  const { values } = readOptions(
    {
      args: [...args],
      options: {
        'would-thin': { type: 'string' },
        'keep-raw': { type: 'string' },
        'backup-made': { type: 'boolean' },
        compact: { type: 'boolean' },
        help: { type: 'boolean', short: 'h' },
        config: { type: 'string' },
      },
    },
    HELP,
  )
  if (values.help === true) {
    console.log(HELP)
    return
  }
  const asked = [values['would-thin'], values['keep-raw'], values.compact].filter(
    (one) => one !== undefined,
  )
  if (asked.length > 1) {
    throw badOption(`expected one of --would-thin, --keep-raw and --compact\n\n${HELP}`)
  }
  const { config } = loadConfig(env, configFile)
  const { dataDir } = config
  if (values['would-thin'] !== undefined) {
    const months = monthsOf('--would-thin', values['would-thin'])
    const would = await folderOrHub<ThinningView>(config, {
      folder: (stores) => wouldThin(stores, months),
      hub: (ask) => json(ask, `/api/storage/thinning?months=${months}`),
    })
    console.log([would.sentence, ...would.notes].join('\n'))
    return
  }
  if (values['keep-raw'] !== undefined) {
    const text = values['keep-raw']
    const rawMonths = text === 'for-ever' ? null : monthsOf('--keep-raw', text)
    if (rawMonths !== null && values['backup-made'] !== true) {
      throw badOption(
        `--keep-raw ${rawMonths}: expected --backup-made beside it. Readings that became hours do not come back; ` +
          'make a backup first (npm run loamline -- backup --to FOLDER), or say it all the same when you want none.',
      )
    }
    await keepRaw(config, rawMonths)
    return
  }
  if (values.compact === true) {
    const bytes = await withProgress('given back', (at) =>
      folderOrHub<number>(config, {
        folder: async ({ readings }) =>
          (
            await upkeepOf(readings).shrink({
              ...at,
              whole: !(await upkeepOf(readings).size()).shrinks,
            })
          ).bytes,
        hub: async (ask) => doneOf(await followJob(ask, await begin(ask, 'compact'), at)),
      }),
    )
    console.log(`Given back to the disk: ${bytesText(bytes)}.`)
    return
  }
  const now = await folderOrHub<StorageView>(config, {
    folder: (stores) => storageIn(stores, dataDir),
    hub: (ask) => json(ask, '/api/storage'),
  })
  console.log(lines(now).join('\n'))
}

async function keepRaw(
  config: ReturnType<typeof loadConfig>['config'],
  rawMonths: number | null,
): Promise<void> {
  const done = await withProgress('gone through', (at) =>
    folderOrHub<number | null>(config, {
      folder: async (stores) => {
        if (rawMonths !== null) upkeepOf(stores.readings)
        await stores.garden.setRetention({ rawMonths, decidedAt: Date.now() })
        if (rawMonths === null) return null
        return (await thinReadings({ ...stores, clock: Date.now }, at)).readings
      },
      hub: async (ask) => {
        await ask('/api/storage/retention', {
          method: 'PUT',
          headers: { 'content-type': 'application/json' },
          body: JSON.stringify({ rawMonths, backup: rawMonths !== null }),
        })
        if (rawMonths === null) return null
        return doneOf(await followJob(ask, await begin(ask, 'thin'), at))
      },
    }),
  )
  console.log(
    rawMonths === null
      ? 'Raw readings are kept for ever.'
      : `Raw readings are kept for ${rawMonths} months; ${done ?? 0} older ones became hours now.`,
  )
}

function monthsOf(option: string, text: string): number {
  const months = /^\d+$/.test(text) ? Number(text) : NaN
  if (months >= LEAST_RAW_MONTHS && months <= MOST_RAW_MONTHS) return months
  throw badOption(
    `${option}: expected months from ${LEAST_RAW_MONTHS} to ${MOST_RAW_MONTHS}, got '${text}'`,
  )
}

const json = async <T>(ask: AskHub, path: string): Promise<T> =>
  (await (await ask(path)).json()) as T

const begin = async (ask: AskHub, what: 'thin' | 'compact'): Promise<JobView> =>
  (await (await ask(`/api/storage/${what}`, { method: 'POST' })).json()) as JobView

function doneOf(job: JobView): number {
  if (job.state === 'failed') {
    throw new HubError('HUB_STORE_UNAVAILABLE', job.reason ?? 'it failed', { retry: false })
  }
  return job.done ?? 0
}

async function wouldThin({ readings, garden }: Stores, months: number): Promise<ThinningView> {
  const { zone } = await garden.garden()
  const before = rawBefore(Date.now(), zone, months)
  return thinningView(await upkeepOf(readings).wouldThin(before), before, zone)
}

async function storageIn({ readings, garden }: Stores, dataDir: string): Promise<StorageView> {
  const [disk, bytes, size, retention, days, { zone }] = await Promise.all([
    diskOf(dataDir),
    folderBytes(dataDir),
    readings.upkeep?.size() ?? null,
    garden.retention(),
    garden.storageDays(),
    garden.garden(),
  ])
  const now = Date.now()
  return storageView({ disk, folderBytes: bytes, size, retention, days, now, zone })
}

function lines({ folderBytes: bytes, disk, readings, retention, sentence }: StorageView): string[] {
  const row = (what: string, value: string): string => `${what.padEnd(18)} ${value}`
  return [
    row('data folder', bytes === null ? 'cannot be told' : bytesText(bytes)),
    ...(disk === null
      ? []
      : [row('disk', `${bytesText(disk.freeBytes)} free of ${bytesText(disk.totalBytes)}`)]),
    ...(readings === null
      ? [row('readings', 'in a database of its own')]
      : [
          row(
            'file of readings',
            `${bytesText(readings.bytes)}, of it ${bytesText(readings.emptyBytes)} emptied`,
          ),
          row(
            'whole readings',
            readings.bytesPerReading === null
              ? String(readings.kept)
              : `${readings.kept}, ${readings.bytesPerReading.toFixed(1)} bytes each, ${(readings.bytesPerValue ?? 0).toFixed(1)} a value`,
          ),
          row('hours instead', `${readings.hours}, ${bytesText(readings.hourBytes)}`),
        ]),
    row(
      'kept raw',
      retention.rawMonths === null ? 'for ever' : `${retention.rawMonths} months, then as hours`,
    ),
    sentence,
  ]
}
