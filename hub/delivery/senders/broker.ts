import type { Publish } from '../retained.ts'
import { messageData } from './message-data.ts'
import { shownAnswer, troubleOf, type Outgoing, type Sender } from './sender.ts'

/** Where the messages of a route are published. */
export const messageTopic = (routeId: number): string => `lm1/hub/messages/${routeId}`

/** The README has a broker take packets of 4096 bytes at most; topic and head of the packet need some of it. */
const LONGEST_BYTES = 3900

/**
 * A message as JSON that any broker takes: when it is long the alarms come without evidence and advice, which stand
 * retained under their own topics, and only as many as fit; `more` counts the rest.
 */
export function brokerPayload(message: Outgoing): string {
  const { alarms, ...rest } = messageData(message)
  const head = { id: message.uid, time: new Date(message.madeAt).toISOString(), ...rest }
  const fits = (text: string): boolean => Buffer.byteLength(text) <= LONGEST_BYTES
  const whole = JSON.stringify({ ...head, alarms, more: 0 })
  if (fits(whole)) return whole
  const short = alarms.map(({ evidence: _evidence, advice: _advice, ...alarm }) => alarm)
  let kept = short.length
  const payload = (): string =>
    JSON.stringify({ ...head, alarms: short.slice(0, kept), more: short.length - kept })
  while (kept > 0 && !fits(payload())) kept -= 1
  return payload()
}

/** JSON to a topic of the route at the hub's broker; it has arrived when the broker has it. */
export function createBrokerSender(
  publish: Publish,
  /** Why the broker cannot be reached now; null: it can. */
  problem: () => string | null,
): Sender {
  return async (route, _secret, message) => {
    const { target } = route
    if (target.way !== 'mqtt') throw new Error(`route ${route.id} does not go to the broker`)
    const away = problem()
    if (away !== null) return { what: 'refused', answer: shownAnswer(away) }
    const topic = messageTopic(route.id)
    try {
      await publish(topic, brokerPayload(message), { retain: target.retain })
      return { what: 'sent', answer: `the broker took it on ${topic}` }
    } catch (error) {
      // The packet may have left before the line broke.
      return { what: 'unsure', answer: troubleOf(error) }
    }
  }
}
