import { PROBE_LIMIT_BYTES } from '../../wire/payload.ts'
import { brokenByMessage, counted, met, notMet, notTested, type Judge } from './verdict.ts'
import { ofKind } from './watched.ts'

const sizeOf = (message: { readonly topic: string; readonly payload: Uint8Array }): number =>
  Buffer.byteLength(message.topic) + message.payload.length

/** LM-03: size. */
export const judgeSize: Judge = (all) => {
  let largest = 0
  for (const message of all.messages) {
    const size = sizeOf(message)
    if (size > PROBE_LIMIT_BYTES)
      return notMet(`expected at most ${PROBE_LIMIT_BYTES} bytes, got ${size}`, message)
    largest = Math.max(largest, size)
  }
  return met(`${counted(all.messages.length, 'message')}, the largest ${largest} bytes`)
}

const NEVER_RETAINED = /\/up\/(r|b|res|s|v\/[^/]*)$/

/** LM-09: retain. */
export const judgeRetained: Judge = (all) => {
  const passing = all.messages.filter(({ topic }) => NEVER_RETAINED.test(topic))
  const kept = passing.find(({ retain }) => retain)
  if (kept !== undefined) return notMet('is retained', kept)
  return passing.length === 0
    ? notTested('no reading came')
    : met(`none of ${counted(passing.length, 'message')}`)
}

/** LM-10: payloads. */
export const judgePayloads: Judge = (all) =>
  brokenByMessage(all, 'LM-10') ??
  unreadable(all) ??
  met(`${counted(all.messages.length, 'message')} read`)

/** Bytes that are no MQTT at all. */
const unreadable = (all: Parameters<Judge>[0]): ReturnType<Judge> | null => {
  const one = all.happenings.find(({ kind }) => kind === 'unreadable')
  if (one?.kind !== 'unreadable') return null
  return notMet(`what came is no MQTT packet: ${one.why}`, { topic: '', payload: one.bytes })
}

/** LM-27: quality of service. */
export const judgeQos: Judge = (all) => {
  const readings = [...ofKind(all.messages, 'reading'), ...ofKind(all.messages, 'batch')]
  if (readings.length === 0) return notTested('no reading came')
  const once = readings.filter(({ qos }) => qos === 1).length
  if (once === readings.length) return met('readings and batches at QoS 1')
  const twice = readings.find(({ qos }) => qos === 2)
  if (twice !== undefined) return notMet('expected QoS 0 or 1, got 2', twice)
  return notTested(
    `${readings.length - once} of ${readings.length} messages at QoS 0; whether the library can do more cannot be seen`,
  )
}
