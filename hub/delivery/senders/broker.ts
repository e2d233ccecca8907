import type { Publish } from '../retained.ts'
import { messageData } from './message-data.ts'
import { shownAnswer, troubleOf, type Sender } from './sender.ts'

/** Where the messages of a route are published. */
export const messageTopic = (routeId: number): string => `lm1/hub/messages/${routeId}`

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
    const { uid, madeAt } = message
    const payload = { id: uid, time: new Date(madeAt).toISOString(), ...messageData(message) }
    try {
      await publish(topic, JSON.stringify(payload), { retain: target.retain })
      return { what: 'sent', answer: `the broker took it on ${topic}` }
    } catch (error) {
      // The packet may have left before the line broke.
      return { what: 'unsure', answer: troubleOf(error) }
    }
  }
}
