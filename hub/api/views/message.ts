import { messageTopic } from '../../delivery/senders/broker.ts'
import { alarmLetter } from '../../delivery/words/letter.ts'
import type { Message, Route } from '../../model/route.ts'
import type { MessageView, RouteView } from '../schemas/message.ts'

/** A route as it is shown: without what is kept secret. */
export function routeView(route: Route): RouteView {
  return {
    ...route,
    kinds: route.kinds === null ? null : [...route.kinds],
    beds: route.beds === null ? null : [...route.beds],
    topic: route.target.way === 'mqtt' ? messageTopic(route.id) : null,
  }
}

/** A message of the outbox with what it is about, in the language spoken here. */
export function messageView(message: Message, garden: { name: string; zone: string }): MessageView {
  const { items, ...rest } = message
  const { subject } = alarmLetter(message, {
    garden: garden.name,
    zone: garden.zone,
    linkBase: null,
  })
  return {
    ...rest,
    title: subject,
    alarms: items.map(({ alarm, bed }) => ({ id: alarm.id, bedId: alarm.bedId, bed })),
  }
}
