import { mkdtempSync, rmSync, statSync } from 'node:fs'
import { dirname, join, resolve } from 'node:path'
import { loadConfig } from '../config/load.ts'
import { restore } from '../store/backup.ts'
import { untar } from '../transfer/tar.ts'
import type { CommandContext } from './main.ts'
import { badOption, readOptions } from './options.ts'

const HELP = `Puts a backup in place as the data folder. Stop the hub first.

  npm run loamline -- restore --from FOLDER_OR_TAR [--replace]

  --from      a folder made by 'backup', or the .tar file from the data page
  --replace   the data folder is not empty: what is in it is moved aside into a folder within it, not deleted

Every file is checked before anything is moved: whole, unchanged, and not written by a newer Loamline. A backup of an
older one is brought up to date when the hub starts.`

/** `restore`: see the help. */
export async function restoreCommand({ env, configFile, args }: CommandContext): Promise<void> {
  const { values } = readOptions(
    {
      args: [...args],
      options: {
        from: { type: 'string' },
        replace: { type: 'boolean', default: false },
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
  const { from, replace } = values
  if (from === undefined) throw badOption(`--from: expected a folder or a .tar file\n\n${HELP}`)
  const { config } = loadConfig(env, configFile)
  const put = async (folder: string): Promise<void> => {
    const { manifest, before } = await restore(folder, config.dataDir, { replace, now: Date.now() })
    const made = new Date(manifest.madeAt).toISOString()
    console.log(`${config.dataDir} holds the backup of ${made} (version ${manifest.version}).`)
    if (before !== null) console.log(`What was there before lies in ${before}.`)
  }
  let isFile: boolean
  try {
    isFile = statSync(from).isFile()
  } catch (error) {
    throw badOption(
      `--from: expected a folder or a .tar file, got '${from}' (${(error as Error).message})`,
    )
  }
  if (!isFile) {
    await put(from)
    return
  }
  // Beside the archive: there is room for it.
  const folder = mkdtempSync(join(dirname(resolve(from)), 'unpacked-'))
  try {
    await untar(from, folder).catch((error: unknown) => {
      throw badOption(`--from: ${(error as Error).message}`)
    })
    await put(folder)
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}
