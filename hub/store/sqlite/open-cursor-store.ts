import type { HubError } from '../../errors.ts'
import { startRemote } from './remote.ts'
import type { CursorStore } from '../cursor-store.ts'
import type { CursorApi } from './cursor-worker.ts'

/** Cursors in one small SQLite file, kept by a thread of its own. */
export async function openCursorStore(
  file: string,
  watch: { readonly onDeath: (error: HubError) => void },
): Promise<CursorStore> {
  const cursors = await startRemote<CursorApi>(
    new URL('./cursor-worker.ts', import.meta.url),
    { file },
    watch,
  )
  return {
    all: () => cursors.call('all', []),
    keep: (...args) => cursors.call('keep', args),
    takenBefore: (at) => cursors.call('takenBefore', [at]),
    forget: () => cursors.call('forget', []),
    close: () => cursors.close(),
  }
}
