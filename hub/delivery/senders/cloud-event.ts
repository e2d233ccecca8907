import { messageData } from './message-data.ts'
import type { Outgoing } from './sender.ts'

/** Media type of an event in structured mode (CloudEvents 1.0, JSON format). */
export const CLOUD_EVENT_TYPE = 'application/cloudevents+json'

/**
 * A message as an event of CloudEvents 1.0: `source` and `id` together name it, over all tries.
 *
 * @param hubId UUID of this hub
 */
export function cloudEvent(hubId: string, message: Outgoing) {
  const [first] = message.items
  const beds = new Set(message.items.map(({ alarm }) => alarm.bedId))
  const bed = first === undefined || beds.size > 1 ? null : first.alarm.bedId
  return {
    specversion: '1.0',
    id: message.uid,
    source: `urn:uuid:${hubId}`,
    type: message.test ? 'loamline.test.v1' : 'loamline.alarms.v1',
    ...(bed === null ? {} : { subject: `bed-${bed}` }),
    time: new Date(message.madeAt).toISOString(),
    datacontenttype: 'application/json',
    // An extension attribute: lower-case letters and digits alone.
    ...(message.maybeSent ? { possiblerepeat: true } : {}),
    data: messageData(message),
  }
}
