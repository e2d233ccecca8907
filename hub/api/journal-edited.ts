import { HOUR } from '../model/clock.ts'
import type { ApiDeps } from './deps.ts'

/** What is written down may explain what was seen so long before. */
const BEFORE_MS = 3 * HOUR

/**
 * Tells the watch and the open pages that the journal of a bed was written, changed or lost an entry.
 *
 * @param at when what the entry tells of happened, epoch ms; a visit spoils the hours before it too
 */
export function journalEdited(
  { watch, live }: Pick<ApiDeps, 'watch' | 'live'>,
  bedId: number,
  at: number,
): void {
  watch.touch([bedId], at - BEFORE_MS)
  live.send({ event: 'journal', data: { bedId } })
}
