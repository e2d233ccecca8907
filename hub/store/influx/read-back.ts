import { bootsReadBack } from './boots-read-back.ts'
import { EARLIEST, MEASUREMENTS } from './point.ts'
import type { KeptReading } from '../sqlite/kept-reading.ts'
import type { Remote } from '../sqlite/remote.ts'
import type { WriterApi } from '../sqlite/reading-writer.ts'
import type { Measurement } from './point.ts'
import type { InfluxWorkerApi, ReadBack } from './influx-worker.ts'

/** Readings that stay there at a moment that is not theirs here, for the server deletes nothing. */
export interface Misplaced {
  readings: number
  /** What it said. */
  why: string
}

/**
 * Everything that is there and not here, probe by probe. Of two points of one name the one with values is the
 * reading, whichever comes first: the other is all that was left of it in a folder in which it had become hours.
 *
 * A reading that is known here at another moment goes there to this moment alone (`displaced.ts`). Returns what could
 * not be put right.
 *
 * @param options.onProbe hears which of how many probes is next, from 1
 */
export async function readBack(options: {
  readonly writer: Pick<Remote<WriterApi>, 'call'>
  readonly influx: Pick<Remote<InfluxWorkerApi>, 'call'>
  readonly onProbe: (i: number, of: number) => void
}): Promise<Misplaced | null> {
  const { writer, influx } = options
  const left: Misplaced = { readings: 0, why: '' }
  const straighten = async (
    measurement: Measurement,
    probe: string,
    some: readonly KeptReading[],
  ): Promise<void> => {
    const bounded = measurement === 'bounded'
    const found = await writer.call('displaced', [probe, bounded, some])
    if (found.length === 0) return
    const moments = found.map(({ t }) => t)
    const { n, why } = await influx.call('empty', [measurement, probe, moments])
    if (why === null) return
    // They stay where they are, then; but what has to make room for another goes on.
    const stay = found.slice(n).filter(({ alone }) => alone)
    await writer.call('withdraw', [probe, stay])
    left.readings += found.length - n
    left.why ||= why
  }
  const probes = await influx.call('probesThere', [])
  for (const [i, probe] of probes.entries()) {
    options.onProbe(i + 1, probes.length)
    const boots = bootsReadBack(probe)
    /** Returns whether there are readings of the other kind. */
    const learn = async (bare: boolean): Promise<boolean> => {
      let others = false
      for (const measurement of MEASUREMENTS) {
        for (let from: number | null = EARLIEST; from !== null;) {
          const page: ReadBack = await influx.call('readBack', [measurement, probe, from])
          const some = page.readings.filter(({ values }) => (values.length === 0) === bare)
          others ||= some.length < page.readings.length
          await writer.call('learn', [probe, some])
          // What is nothing but a name shows nowhere, and is not sent.
          if (!bare) await straighten(measurement, probe, some)
          boots.add(some)
          from = page.next
        }
      }
      return others
    }
    if (await learn(false)) await learn(true)
    await writer.call('learnBoots', [boots.marks(), boots.anchors()])
  }
  return left.readings === 0 ? null : left
}
