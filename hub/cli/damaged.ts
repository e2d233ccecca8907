import { createReadStream, existsSync, statSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { Readable } from 'node:stream'
import { bytesText } from '../alerts/storage-words.ts'
import { bringBack, type BringBack } from '../assembly/bring-back.ts'
import { loadConfig } from '../config/load.ts'
import { HubError } from '../errors.ts'
import type { DamagedPart, Refused } from '../store/damage.ts'
import { tarOf } from '../transfer/tar.ts'
import { folderOrHub, HubRefusal, type AskHub } from './folder-or-hub.ts'
import type { CommandContext } from './main.ts'
import { badOption, readOptions } from './options.ts'

const HELP = `Says which readings were found damaged on the disk, and settles them, whether the hub runs or not.

  npm run loamline -- damaged [options]

  --from FOLDER_OR_TAR  bring back what a backup has of them: a folder made by 'backup', or the .tar file of the data page
  --save ID --to FILE   write the bytes of one as they were found to a file
  --gone ID --for-good  do without one: its bytes are deleted, and from then on no backup brings it back; try --from first

What is damaged was changed on the disk by something other than the hub. Look after the disk. Of a backup only what is
damaged is taken: readings that are known stay as they are, and each is kept once.`

const OPTIONS = {
  from: { type: 'string' },
  save: { type: 'string' },
  to: { type: 'string' },
  gone: { type: 'string' },
  'for-good': { type: 'boolean' },
  help: { type: 'boolean', short: 'h' },
  config: { type: 'string' },
} as const

const WHAT: Readonly<Record<DamagedPart['what'], string>> = {
  batch: 'readings that waited in the log',
  readings: 'readings',
  names: 'names of readings that have become hours',
  hours: 'hours',
}

/** `damaged`: see the help. */
export async function damagedCommand({ env, configFile, args }: CommandContext): Promise<void> {
  const { values } = readOptions({ args: [...args], options: OPTIONS }, HELP)
  if (values.help === true) {
    console.log(HELP)
    return
  }
  const { from, save, to, gone } = values
  const asked = [from, save, gone].filter((one) => one !== undefined)
  const forGood = values['for-good'] === true
  if (
    asked.length > 1 ||
    (save === undefined) !== (to === undefined) ||
    (forGood && gone === undefined)
  ) {
    throw badOption(
      `expected one of --from, --gone with --for-good, or --save with --to\n\n${HELP}`,
    )
  }
  const { config } = loadConfig(env, configFile)
  if (from !== undefined) {
    console.log(told(await broughtBack(config, from)))
    return
  }
  if (save !== undefined && to !== undefined) {
    const id = idOf('--save', save)
    const bytes = await folderOrHub<Uint8Array>(config, {
      folder: async ({ readings }) => (await readings.damage.bytes(id)) ?? unknown('--save', id),
      hub: async (ask) => (await askFor(ask, '--save', id, 'bytes')).bytes(),
    })
    try {
      writeFileSync(to, bytes, { flag: 'wx', mode: 0o600 })
    } catch (error) {
      throw badOption(`--to: ${to} cannot be written (${(error as Error).message})`)
    }
    console.log(`${to}  ${bytesText(bytes.length)}`)
    return
  }
  if (gone !== undefined) {
    const id = idOf('--gone', gone)
    if (!forGood) {
      throw badOption(
        `--gone: expected --for-good with it: the bytes of ${id} are deleted, and from then on no backup brings it ` +
          'back. Try --from with a backup first.',
      )
    }
    await folderOrHub<void>(config, {
      folder: async ({ readings }) => {
        if (!(await readings.damage.gone(id, Date.now()))) unknown('--gone', id)
      },
      hub: async (ask) => {
        await askFor(ask, '--gone', id, 'gone', { method: 'POST' })
      },
    })
    console.log(`${id} is given up; its bytes were deleted.`)
    return
  }
  const parts = await folderOrHub<readonly DamagedPart[]>(config, {
    folder: ({ readings }) => readings.damage.list(),
    hub: async (ask) => (await (await ask('/api/damaged')).json()) as DamagedPart[],
  })
  console.log(parts.length === 0 ? 'No damage was met.' : parts.map(line).join('\n'))
}

/** What 'backup' makes in a folder. */
const IN_BACKUP = ['readings.db', 'garden.db', 'backup.json'] as const

type Back = Exclude<BringBack, Refused>
type Config = ReturnType<typeof loadConfig>['config']

async function broughtBack(config: Config, from: string): Promise<Back> {
  let isFile: boolean
  try {
    isFile = statSync(from).isFile()
  } catch (error) {
    throw badOption(
      `--from: expected a folder or a .tar file, got '${from}' (${(error as Error).message})`,
    )
  }
  const missing = isFile ? undefined : IN_BACKUP.find((name) => !existsSync(join(from, name)))
  if (missing !== undefined) {
    throw badOption(`--from: expected a folder made by 'backup', found no ${missing} in it`)
  }
  // The request breaks off with what is sent: without this it would look as if the hub could not be reached.
  let unread: Error | null = null
  async function* archive(): AsyncGenerator<Uint8Array> {
    try {
      yield* isFile
        ? (createReadStream(from) as AsyncIterable<Uint8Array>)
        : tarOf(
            IN_BACKUP.map((name) => join(from, name)),
            Date.now(),
          )
    } catch (error) {
      unread = error as Error
      throw error
    }
  }
  const brought = await folderOrHub<BringBack>(config, {
    folder: (stores) =>
      bringBack(stores, isFile ? archive() : from, { room: config.dataDir, now: Date.now() }),
    hub: async (ask) =>
      (await (
        await ask('/api/damaged/bring-back', {
          method: 'POST',
          headers: { 'content-type': 'application/x-tar' },
          body: Readable.toWeb(Readable.from(archive(), { objectMode: false })),
          duplex: 'half',
        })
      ).json()) as BringBack,
  }).catch((error: unknown) => {
    if (unread === null) throw error
    throw badOption(`--from: ${from} cannot be read (${unread.message})`)
  })
  if ('refused' in brought) throw badOption(`--from: ${brought.refused}`)
  return brought
}

function idOf(option: string, text: string): number {
  const id = /^[1-9]\d*$/.test(text) ? Number(text) : NaN
  if (Number.isSafeInteger(id)) return id
  throw badOption(`${option}: expected the number of a damaged part, got '${text}'`)
}

/** What a hub says of one part; one it does not know is told as without a hub. */
async function askFor(
  ask: AskHub,
  option: string,
  id: number,
  what: 'bytes' | 'gone',
  init?: RequestInit,
): Promise<Response> {
  try {
    return await ask(`/api/damaged/${id}/${what}`, init)
  } catch (error) {
    if (error instanceof HubRefusal && error.status === 404) unknown(option, id)
    throw error
  }
}

function unknown(option: string, id: number): never {
  throw new HubError(
    'HUB_CONFIG',
    `${option}: expected the number of a damaged part that is not settled, got ${id}`,
    { retry: false },
  )
}

const at = (t: number | null): string =>
  t === null ? '?' : new Date(t).toISOString().replace('.000Z', 'Z')

function line(part: DamagedPart): string {
  const { id, what, probe, from, to, readings, now, back, bytes, settled } = part
  const where = probe === null ? '' : ` of ${probe}, ${at(from)} to ${at(to)}`
  const state =
    settled === null
      ? `${bytesText(bytes)}, open`
      : `${settled.how === 'back' ? 'came back' : 'given up'} ${at(settled.at)}`
  const there = settled === null && now !== null && what !== 'hours' ? `, ${now} there now` : ''
  const some = settled === null && back > 0 ? `, ${back} came back` : ''
  return `${id}  ${readings} ${WHAT[what]}${where}; met ${at(part.metAt)}; ${state}${there}${some}`
}

function told(brought: Back): string {
  const { parts, readings, madeAt } = brought
  if (parts.length === 0) return 'Nothing that is damaged is open.'
  const lines = parts.map(({ id, found, of, why }) => {
    if (why === 'hours only') return `${id}  that day has become hours in this backup`
    if (why === 'nothing') return `${id}  not in this backup`
    return `${id}  ${found} of ${of} are in it${found >= of ? '' : '; the rest stays open'}`
  })
  return [
    ...lines,
    `Out of the backup of ${at(madeAt)} ${readings} readings came back that were missing.`,
  ].join('\n')
}
