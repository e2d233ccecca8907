import { loadConfig } from '#hub/config/load.ts'
import { openHub } from '#hub/hub.ts'
import { openLog } from '#hub/cli/log.ts'

/*
 * The whole hub in a process of its own, with a clock that its parent sets: what the machine's clock says, and so many
 * milliseconds more. Settings come from the environment, as always.
 */

let offsetMs = Number(process.env['TEST_CLOCK_OFFSET_MS'] ?? 0)
process.on('message', (message: { readonly offsetMs: number }) => {
  ;({ offsetMs } = message)
})
// Its parent has gone: nobody would end it any more.
process.on('disconnect', () => process.exit(3))

const { config } = loadConfig(process.env, undefined)
const hub = await openHub(config, {
  clock: () => Date.now() + offsetMs,
  log: openLog(config.logLevel),
})
process.on('SIGTERM', () => {
  void hub.stop().then(() => process.exit(0))
})
process.send?.('up')
