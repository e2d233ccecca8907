import { HubError } from '../../errors.ts'
import { startRemote } from './remote.ts'
import type { BroughtBack, Damage, Refused } from '../damage.ts'
import type { BucketQuery, Buckets } from '../../model/series.ts'
import type { PlacedReading } from '../../model/reading.ts'
import type { OpenPart } from './damaged-parts.ts'
import type { ReaderApi } from './reading-reader.ts'
import type { WriterApi } from './reading-writer.ts'
import type { Remote } from './remote.ts'
import type { SalvageApi, Salvaged } from './salvage-worker.ts'

interface Threads {
  readonly reader: Pick<Remote<ReaderApi>, 'call'>
  readonly writer: Pick<Remote<WriterApi>, 'call'>
}

/** What was met while reading is put aside before anybody sees the answer: whoever asks for gaps is told of it. */
async function putAside({ writer }: Threads, met: readonly number[]): Promise<void> {
  if (met.length === 0) return
  try {
    await writer.call('lookAt', [met])
  } catch (error) {
    // A store that cannot be written tells it by itself; what could be read is shown all the same.
    if (!(error instanceof HubError)) throw error
  }
}

/** Reads that go on past damage: the answer is without what could not be read, and that is put aside. */
export const readPast = (threads: Threads) => ({
  async buckets(queries: readonly BucketQuery[]): Promise<Buckets[]> {
    const { told, damaged } = await threads.reader.call('buckets', [queries])
    await putAside(threads, damaged)
    return told
  },
  async newest(probe: string, limit: number): Promise<PlacedReading[]> {
    const { rows, damaged } = await threads.reader.call('newest', [probe, limit])
    await putAside(threads, damaged)
    return rows
  },
})

function foundIn(found: Salvaged): number {
  if (found.kind === 'none') return 0
  return found.kind === 'readings' ? found.readings.length : found.readings
}

async function startSalvage(file: string): Promise<Remote<SalvageApi> | Refused> {
  try {
    return await startRemote<SalvageApi>(
      new URL('./salvage-worker.ts', import.meta.url),
      { file },
      // Whoever waits for what is found hears of it.
      { onDeath: () => {} },
    )
  } catch (error) {
    if (!(error instanceof HubError) || error.retry) throw error
    return { refused: error.message }
  }
}

/** What is damaged in a file of readings, and settling it. */
export function openDamage({ reader, writer }: Threads): Damage {
  async function putBack(part: OpenPart, found: Salvaged, at: number): Promise<number> {
    const { id, probe, place, n } = part
    switch (found.kind) {
      case 'readings':
        return writer.call('putBack', [{ ...part, probe: probe ?? '' }, found.readings, at])
      case 'batch':
        await writer.call('putBackBatch', [id, found.body, found.readings, at])
        return found.readings
      case 'hours': {
        // Fewer than there were would stand for the day as if they were all.
        if (found.readings < n) return 0
        const of = { probe: probe ?? '', day: place, readings: found.readings }
        await writer.call('putBackHours', [id, of, found.hours, at])
        return 0
      }
      case 'none':
        return 0
    }
  }

  return {
    list: () => reader.call('damagedList', []),
    bytes: (id) => reader.call('damagedBytes', [id]),
    gone: (id, at) => writer.call('damageGone', [id, at]),
    within: (probes, from, to) => reader.call('damagedWithin', [probes, from, to]),
    async bringBack(file, { at, signal, tell }) {
      const salvage = await startSalvage(file)
      if ('refused' in salvage) return salvage
      try {
        const open = await reader.call('damagedOpen', [])
        const parts: BroughtBack['parts'][number][] = []
        let readings = 0
        for (const [i, part] of open.entries()) {
          if (signal?.aborted === true) break
          const found = await salvage.call('find', [part])
          readings += await putBack(part, found, at)
          const { id, n: of } = part
          parts.push({
            id,
            found: foundIn(found),
            of,
            why: found.kind === 'none' ? found.why : null,
          })
          tell?.((i + 1) / open.length)
        }
        // It is all back by now; a writer that is held settles it when it goes on.
        await writer.call('settle', []).catch((error: unknown) => {
          if (!(error instanceof HubError && error.retry)) throw error
        })
        return { parts, readings }
      } finally {
        await salvage.close()
      }
    },
  }
}
