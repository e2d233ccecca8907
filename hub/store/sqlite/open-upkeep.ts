import { startRemote } from './remote.ts'
import type { Upkeep } from '../retention/upkeep.ts'
import type { MeasureApi } from './measure-worker.ts'
import type { Remote } from './remote.ts'
import type { WriterApi } from './reading-writer.ts'

/** Housekeeping of a file of readings; `writer` is the thread that writes it. */
export function openUpkeep(file: string, writer: Remote<WriterApi>): Upkeep {
  async function measure<T>(work: (measuring: Remote<MeasureApi>) => Promise<T>): Promise<T> {
    const measuring = await startRemote<MeasureApi>(
      new URL('./measure-worker.ts', import.meta.url),
      { file },
      // Whoever waits for the figures hears of it.
      { onDeath: () => {} },
    )
    try {
      return await work(measuring)
    } finally {
      await measuring.close()
    }
  }

  return {
    async size() {
      await writer.call('settle', [])
      return measure((measuring) => measuring.call('size', []))
    },
    async wouldThin(before) {
      await writer.call('settle', [])
      return measure((measuring) => measuring.call('wouldThin', [before]))
    },
    async thin(before, { signal, tell } = {}) {
      await writer.call('settle', [])
      const plans = []
      let of = 0
      for (const probe of await writer.call('thinProbes', [])) {
        if (signal?.aborted === true) break
        const plan = await writer.call('thinPlan', [probe, before])
        of += plan.days.length
        if (plan.days.length > 0) plans.push(plan)
      }
      let tried = 0
      let days = 0
      let readings = 0
      for (const { probe, days: wanted } of plans) {
        for (let next = 0; next < wanted.length && signal?.aborted !== true;) {
          const done = await writer.call('thin', [{ probe, days: wanted.slice(next) }])
          next += done.tried
          tried += done.tried
          days += done.days
          readings += done.readings
          tell?.(tried / of)
        }
      }
      return { readings, days, of: of - (tried - days) }
    },
    async shrink({ signal, tell, whole = false } = {}) {
      if (whole) return writer.call('shrinkWhole', [])
      let bytes = 0
      let most = 0
      for (;;) {
        const some = await writer.call('shrink', [])
        bytes += some.bytes
        most = Math.max(most, some.left)
        if (most > 0) tell?.(1 - some.left / (most + 1))
        if (some.bytes === 0 || some.left === 0 || signal?.aborted === true) break
      }
      if (bytes > 0) await writer.call('checkpoint', [])
      return { bytes }
    },
    thinnedTo: () => writer.call('thinnedTo', []),
  }
}
