import type { z } from 'zod'
import { BUFFER_SETS, buffersAt } from '../agronomy/buffers.ts'
import type { BufferSetId, NewCalibration } from '../model/probe.ts'
import type { ApiDeps } from './deps.ts'
import { shown } from './explain.ts'
import { badValue, notAhead } from './problem.ts'
import type { bufferPoint, calibrationInput } from './schemas/probe.ts'
import { temperatureText } from '../words/amount.ts'
import { fixed } from '../words/figure.ts'
import { said, say } from '../words/say.ts'

/** A pH on a label or typed from a table is rounded. */
const AS_TABLED_PH = 0.006

/**
 * The dated record a form describes; refuses a channel the probe does not have, and buffers that are not all of the
 * set it names.
 */
export async function toCalibration(
  { garden, clock }: Pick<ApiDeps, 'garden' | 'clock'>,
  probe: string,
  body: z.output<typeof calibrationInput>,
): Promise<NewCalibration> {
  notAhead('at', body.at, clock())
  const channels = await garden.channels(probe)
  const channel = channels.find((c) => c.name === body.channel)
  if (channel === undefined) {
    const known = channels.map((c) => c.name).join(', ') || say`none yet`
    throw badValue(
      'channel',
      say`expected a channel of ${probe} (${known}), got ${shown(body.channel)}`,
    )
  }
  const fits = body.kind === 'electrode' ? 'ph.emf' : 'moist.raw'
  if (channel.senses !== fits) {
    throw badValue(
      'channel',
      say`expected a channel that senses ${fits}, '${body.channel}' senses ${channel.senses}`,
    )
  }
  if (body.kind === 'electrode' && body.bufferSet !== null) {
    checkBuffers(body.bufferSet, body.points, body.temperatureC)
  }
  return { ...body, probe }
}

/** Sets never mix: "pH 7" is 7.00 in one and 6.865 in another, which would shift every reading. */
function checkBuffers(
  id: BufferSetId,
  points: readonly z.output<typeof bufferPoint>[],
  temperatureC: number,
): void {
  const set = BUFFER_SETS.find((one) => one.id === id)!
  const known = buffersAt(set, temperatureC)
  for (const [i, { ph }] of points.entries()) {
    if (known.some((buffer) => Math.abs(buffer.ph - ph) <= AS_TABLED_PH)) continue
    const list = known.map((buffer) => fixed(buffer.ph, 3)).join(', ')
    throw badValue(
      `points.${i}.ph`,
      say`expected a buffer of '${said(set.name)}' at ${temperatureText(temperatureC, 1)} (pH ${list}), got ${ph}; buffers of two sets do not mix`,
    )
  }
}
