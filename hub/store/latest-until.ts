import { DAY, MINUTE } from '../model/clock.ts'
import type { LatestValue, ReadingStore } from './reading-store.ts'

/** Clocks of a machine and what was placed by them may differ by so much without either being wrong, ms. */
const SLACK_MS = 2 * MINUTE
/** How far back a value is looked for behind those that lie ahead. */
const LOOK_BACK_MS = 60 * DAY

/**
 * Newest value of every channel as of `at` (epoch ms). Readings that were placed ahead of it, by a clock that was wrong
 * for a while, do not hide those of now; a channel that has only such is left out.
 *
 * @param probe only this one's. @default every probe's
 */
export async function latestUntil(
  readings: Pick<ReadingStore, 'latest' | 'buckets'>,
  at: number,
  probe?: string,
): Promise<readonly LatestValue[]> {
  const latest = await readings.latest(probe)
  const isAhead = (one: LatestValue): boolean => one.at > at + SLACK_MS
  const ahead = latest.filter(isAhead)
  if (ahead.length === 0) return latest
  const [from, to] = [at - LOOK_BACK_MS, at + SLACK_MS]
  const columns = await readings.buckets(
    ahead.map((one) => ({ probe: one.probe, channel: one.channel, from, to, step: 'raw' })),
  )
  const found = ahead.flatMap(({ probe: of, channel }, i): LatestValue[] => {
    const { time, mean } = columns[i]!
    const last = time.length - 1
    return last < 0 ? [] : [{ probe: of, channel, at: time[last]!, value: mean[last]! }]
  })
  return [...latest.filter((one) => !isAhead(one)), ...found]
}
