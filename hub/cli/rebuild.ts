import type { JobView } from '../api/schemas/job.ts'
import { loadConfig } from '../config/load.ts'
import { HubError } from '../errors.ts'
import { followJob } from './ask-job.ts'
import { folderOrHub } from './folder-or-hub.ts'
import type { CommandContext } from './main.ts'
import { readOptions } from './options.ts'
import { withProgress } from './progress.ts'

const HELP = `Makes the hours and days that pages and rules go by anew from the readings, whether the hub runs or not.

  npm run loamline -- rebuild

Readings are not touched. It can be given up with Ctrl-C: what was made anew stays, the rest is as it was.`

interface Outcome {
  readonly days: number
  /** All there are; null: all were made anew. */
  readonly of: number | null
}

/** `rebuild`: see the help. */
export async function rebuildCommand({ env, configFile, args }: CommandContext): Promise<void> {
  const { values } = readOptions(
    {
      args: [...args],
      options: { help: { type: 'boolean', short: 'h' }, config: { type: 'string' } },
    },
    HELP,
  )
  if (values.help === true) {
    console.log(HELP)
    return
  }
  const { config } = loadConfig(env, configFile)
  const { days, of } = await withProgress('made anew', (at) =>
    folderOrHub<Outcome>(config, {
      folder: async ({ readings, garden, memory }) => {
        const made = await readings.rebuild(at)
        // What the watch saw in hours that were wrong does not hold; the hub goes through it again when it starts.
        for (const { id } of await garden.beds({ retired: true })) {
          await memory.rememberWatch(id, { from: 0, states: [], days: [] })
        }
        return { days: made.days, of: made.days < made.of ? made.of : null }
      },
      hub: async (ask) => {
        const response = await ask('/api/jobs', {
          method: 'POST',
          headers: { 'content-type': 'application/json' },
          body: JSON.stringify({ kind: 'rebuild' }),
        })
        const job = await followJob(ask, (await response.json()) as JobView, at)
        if (job.state === 'failed') {
          throw new HubError('HUB_STORE_UNAVAILABLE', job.reason ?? 'it failed', { retry: false })
        }
        return { days: job.done ?? job.kept?.done ?? 0, of: job.kept?.of ?? null }
      },
    }),
  )
  console.log(
    of === null
      ? `Hours and days made anew: ${days} days of series.`
      : `Given up: ${days} of ${of} days of series are made anew, the rest is as it was.`,
  )
}
