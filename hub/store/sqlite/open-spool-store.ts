import type { HubError } from '../../errors.ts'
import { messageOf, packMessages, unpackMessages } from './packed-messages.ts'
import { startRemote } from './remote.ts'
import type { SpoolStore } from '../spool-store.ts'
import type { SpoolApi } from './spool-worker.ts'

/** A spool in one SQLite file, kept by a thread of its own. */
export async function openSpoolStore(
  file: string,
  watch: { readonly onDeath: (error: HubError) => void },
): Promise<SpoolStore> {
  const spool = await startRemote<SpoolApi>(
    new URL('./spool-worker.ts', import.meta.url),
    { file },
    watch,
  )
  return {
    async append(messages) {
      const packed = packMessages(messages)
      await spool.call('append', [packed], [packed.numbers.buffer, packed.bytes.buffer])
    },
    async after(row, limit) {
      const { from, messages } = await spool.call('after', [row, limit])
      return Array.from(unpackMessages(messages), (message, i) => ({
        ...messageOf(message),
        row: from + i,
      }))
    },
    delivered: (row) => spool.call('delivered', [row]),
    async taken(row) {
      while (await spool.call('taken', [row]));
    },
    renew: () => spool.call('renew', []),
    state: () => spool.call('state', []),
    listening: () => spool.call('listening', []),
    setListening: (topics) => spool.call('setListening', [topics]),
    close: () => spool.close(),
  }
}
