import { join } from 'node:path'
import { loadConfig } from '../config/load.ts'
import { HubError } from '../errors.ts'
import { version } from '../assembly/version.ts'
import { backUp } from '../store/backup.ts'
import type { CommandContext } from './main.ts'
import { badOption, readOptions } from './options.ts'
import { withProgress } from './progress.ts'

const HELP = `Copies everything in the data folder that cannot be made again, also while the hub runs on it.

  npm run loamline -- backup --to FOLDER

  --to FOLDER   an empty folder, or one that is not there yet; on another disk it survives this one

In it: every reading, the whole garden with journal and photos; of the passwords of people and probes only what they are
checked with, the password of your mail server and the keys of your routes for messages as they are. Keep it where you
keep private papers.`

/** `backup`: see the help. */
export async function backupCommand({ env, configFile, args }: CommandContext): Promise<void> {
  const { values } = readOptions(
    {
      args: [...args],
      options: {
        to: { type: 'string' },
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
  if (values.to === undefined) throw badOption(`--to: expected a folder\n\n${HELP}`)
  const { config } = loadConfig(env, configFile)
  const target = values.to
  const manifest = await withProgress('copied', (at) =>
    backUp(config.dataDir, target, { version: version(), now: Date.now(), ...at }).catch(
      (error: unknown) => {
        if (at.signal.aborted && !(error instanceof HubError)) return null
        throw error
      },
    ),
  )
  if (manifest === null) {
    console.error('Given up: nothing of the backup was kept.')
    return
  }
  for (const { name, bytes } of manifest.files) {
    console.log(`${join(values.to, name)}  ${(bytes / 1024 / 1024).toFixed(1)} MiB`)
  }
  console.log(
    `In it, so keep it where nobody else reads it: ${manifest.secrets?.join('; ') ?? ''}.`,
  )
}
