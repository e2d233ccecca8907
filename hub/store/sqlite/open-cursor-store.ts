import type { HubError } from '../../errors.ts'
import { startRemote } from './remote.ts'
import type { CursorStore } from '../cursor-store.ts'
import type { CursorApi } from './cursor-worker.ts'

/**
 * Cursors in one small SQLite file, kept by a thread of its own.
 *
 * @param readings names the file of readings they hold for; with another one they begin anew
 */
export async function openCursorStore(
  file: string,
  readings: string,
  watch: { readonly onDeath: (error: HubError) => void },
): Promise<CursorStore> {
  const cursors = await startRemote<CursorApi, { file: string; readings: string }>(
    new URL('./cursor-worker.ts', import.meta.url),
    { file, readings },
    watch,
  )
  return {
    all: () => cursors.call('all', []),
    keep: (...args) => cursors.call('keep', args),
    takenBefore: (at) => cursors.call('takenBefore', [at]),
    close: () => cursors.close(),
  }
}
