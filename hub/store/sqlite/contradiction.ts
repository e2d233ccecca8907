import { ABSENT } from './value-column.ts'
import type { IntakeRow } from './open-intake.ts'
import type { OpenBlock } from './probe-blocks.ts'

/** Name of the channel that holds the spread of another. */
const SPREAD = '.s'

/** What differs between a reading that is kept and one of the same name; null when it is the same again. */
export function contradiction(
  { block, thinned }: OpenBlock,
  position: number,
  row: IntakeRow,
): string | null {
  const uptime = block.uptime[position]
  if (uptime !== row.uptime) return `uptime ${uptime} s before, ${row.uptime} s now`
  if (thinned) return null
  for (const [i, channel] of row.channels.entries()) {
    const value = row.values[i]!
    const first = block.values.get(channel)?.[position] ?? ABSENT
    // A batch has no room for spreads: what came in one first may be told with them afterwards.
    if (first === ABSENT && channel.endsWith(SPREAD)) continue
    if (first === ABSENT) return `'${channel}' absent before, ${value} now`
    if (first !== value && !(Number.isNaN(first) && Number.isNaN(value))) {
      return `'${channel}' ${first} before, ${value} now`
    }
  }
  return null
}
