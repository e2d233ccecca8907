/**
 * A process to be killed: thins the data folder of the first argument before the moment of the second and then gives
 * space back. After each slice it says so and does nothing for a while.
 *
 *     node thin-and-wait.ts <folder> <epoch ms>
 */
import { writeSync } from 'node:fs'
import { openStores } from '#hub/store/open.ts'

const PAUSE_MS = 2000

const [folder = '', before = '0'] = process.argv.slice(2)
const { readings } = await openStores(folder)
const upkeep = readings.upkeep!
const say = (what: string): void => {
  writeSync(1, `${what}\n`)
  Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, PAUSE_MS)
}
await upkeep.thin(Number(before), { tell: (share) => say(share === 1 ? 'thinned' : String(share)) })
await upkeep.shrink({ tell: () => say('shrinking') })
say('done')
process.exit(0)
