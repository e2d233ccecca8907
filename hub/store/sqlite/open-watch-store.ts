import type { HubError } from '../../errors.ts'
import type { WatchStore } from '../watch-store.ts'
import { startRemote } from './remote.ts'
import type { WatchApi } from './watch-worker.ts'

/** The watch's memory in one SQLite file, kept by a thread of its own. */
export async function openWatchStore(
  file: string,
  watch: { readonly onDeath: (error: HubError) => void },
): Promise<WatchStore> {
  const memory = await startRemote<WatchApi>(
    new URL('./watch-worker.ts', import.meta.url),
    { file },
    watch,
  )
  return {
    recallWatch: (...args) => memory.call('recallWatch', args),
    rememberWatch: (...args) => memory.call('rememberWatch', args),
    spotDays: (...args) => memory.call('spotDays', args),
    close: () => memory.close(),
  }
}
