import { HOUR } from '../model/clock.ts'
import type { Clock } from '../model/clock.ts'
import type { Buckets } from '../model/series.ts'
import type { GardenStore } from '../store/garden-store.ts'
import type { ReadingStore } from '../store/reading-store.ts'
import { nameOf } from './file-reading.ts'
import type { FileReading } from './file-reading.ts'
import type { ImportMap } from './import-map.ts'
import type { ImportReport } from './import-report.ts'
import { readImport } from './read-import.ts'
import { takeIn } from './take-in.ts'
import type { TakingIn } from './take-in.ts'
import { say } from '../words/say.ts'

export interface TransferDeps {
  readonly readings: ReadingStore
  readonly garden: GardenStore
  readonly clock: Clock
}

export interface CheckedImport {
  readonly report: ImportReport
  /** What is not stored yet. */
  readonly fresh: readonly FileReading[]
}

/** Rows between two words on how far it is. */
const TELL_EVERY = 5000
/** Readings held against the store at a time. */
const PIECE = 20_000

/**
 * Looks at every row of a file, and at what is stored of its probes; stores nothing.
 *
 * @param told hears the number of rows looked at so far
 * @param signal ends it between two pieces
 * @throws the reason of the signal
 */
export async function checkImport(
  source: AsyncIterable<Uint8Array>,
  map: ImportMap,
  { readings, garden, clock }: TransferDeps,
  told: (rows: number) => void = () => {},
  signal?: AbortSignal,
): Promise<CheckedImport> {
  const [probes, channels] = await Promise.all([garden.probes(), garden.channels()])
  const taking = takeIn(map, { probes, channels }, clock())
  let rows = 0
  for await (const row of readImport(source, map)) {
    taking.add(row)
    rows++
    if (rows % TELL_EVERY === 0) {
      told(rows)
      // Messages of probes go on meanwhile.
      await new Promise((resolve) => setImmediate(resolve))
      signal?.throwIfAborted()
    }
  }
  await readings.settle()
  const all = taking.readings()
  const fresh: FileReading[] = []
  for (let start = 0; start < all.length;) {
    signal?.throwIfAborted()
    let end = start
    const { probe } = all[start]!
    while (end < all.length && end - start < PIECE && all[end]!.probe === probe) end++
    fresh.push(...(await notStored(all.slice(start, end), readings, taking)))
    start = end
  }
  return { report: taking.report(all.length - fresh.length - taking.contradicting()), fresh }
}

type Lined = FileReading & { readonly line: number }

/** Of readings of one probe, ascending in time: those, or the parts of those, that the store does not have. */
async function notStored(
  piece: readonly Lined[],
  readings: ReadingStore,
  taking: TakingIn,
): Promise<readonly FileReading[]> {
  const { probe, at: from } = piece[0]!
  const to = piece.at(-1)!.at + 1
  const channels = [...new Set(piece.flatMap(({ values }) => values.map((v) => v.channel)))]
  const stored = await readings.buckets(
    channels.map((channel) => ({ probe, channel, from, to, step: 'raw' as const })),
  )
  const known = new Map(channels.map((channel, i) => [channel, valuesByTime(stored[i])]))
  const gone = await hoursInstead(piece, channels, readings)
  const names = new Map<number, ReadonlySet<number>>()
  const hasName = async (reading: FileReading): Promise<boolean> => {
    const { boot, seq } = nameOf(reading)
    let seqs = names.get(boot)
    if (seqs === undefined) {
      seqs = new Set((await readings.recall(probe, boot)).ahead)
      names.set(boot, seqs)
    }
    return seqs.has(seq)
  }
  const fresh: FileReading[] = []
  for (const { line, at, values } of piece) {
    const rest = values.filter(({ channel }) => !known.get(channel)?.has(at))
    const other = values.find(({ channel, value }) => {
      const before = known.get(channel)?.get(at)
      return before !== undefined && !Object.is(before, value)
    })
    if (other !== undefined) {
      const before = known.get(other.channel)?.get(at)
      taking.contradict({
        line,
        column: null,
        expected: say`the value of ${other.channel} of ${probe} stored for ${new Date(at).toISOString()} (${before ?? NaN}), or another time`,
        got: String(other.value),
      })
    } else if (rest.length > 0) {
      const reading = { probe, at, values: rest }
      // A reading whose millisecond was taken stands a little later, under this name.
      if (await hasName(reading)) continue
      const hidden = rest.find(({ channel }) => gone.get(channel)?.has(hourOf(at)))
      if (hidden === undefined) fresh.push(reading)
      else {
        taking.contradict({
          line,
          column: null,
          expected: say`another time: the readings of ${hidden.channel} of ${probe} in the hour of ${new Date(at).toISOString()} have become an hour, and this one may be in it`,
          got: String(hidden.value),
        })
      }
    }
  }
  return fresh
}

const hourOf = (at: number): number => Math.floor(at / HOUR) * HOUR

/** Hours, by channel, that stand for readings of the probe that are gone: a reading of a file may be one of them. */
async function hoursInstead(
  piece: readonly Lined[],
  channels: readonly string[],
  readings: ReadingStore,
): Promise<ReadonlyMap<string, ReadonlySet<number>>> {
  const { probe, at } = piece[0]!
  const thinnedTo = (await readings.upkeep?.thinnedTo())?.get(probe) ?? -Infinity
  const [from, to] = [hourOf(at), Math.min(hourOf(piece.at(-1)!.at) + HOUR, thinnedTo)]
  if (from >= to) return new Map()
  const answers = await readings.buckets(
    (['hour', 'raw'] as const).flatMap((step) =>
      channels.map((channel) => ({ probe, channel, from, to, step })),
    ),
  )
  return new Map(
    channels.map((channel, i) => {
      const single = new Set(Array.from(answers[channels.length + i]!.time, hourOf))
      return [channel, new Set(answers[i]!.time.filter((hour) => !single.has(hour)))]
    }),
  )
}

function valuesByTime(buckets: Buckets | undefined): ReadonlyMap<number, number> {
  const values = new Map<number, number>()
  buckets?.time.forEach((time, i) => values.set(time, buckets.mean[i]!))
  return values
}
