import { randomUUID } from 'node:crypto'
import type { Logger } from 'pino'
import type { Messages } from '../api/deps.ts'
import type { LiveFeed } from '../api/live.ts'
import { pushKeys } from '../delivery/push-keys.ts'
import type { Publish } from '../delivery/retained.ts'
import { createBrokerSender } from '../delivery/senders/broker.ts'
import { createMailSender } from '../delivery/senders/mail.ts'
import { createPushSender } from '../delivery/senders/push.ts'
import { createWebhookSender } from '../delivery/senders/webhook.ts'
import { startDelivery, type Delivery } from '../delivery/start-delivery.ts'
import type { Clock } from '../model/clock.ts'
import type { Manner } from '../model/manner.ts'
import type { GardenStore } from '../store/garden-store.ts'

export interface WiredDelivery {
  readonly delivery: Delivery
  /** What the API needs of it. */
  readonly messages: Messages
}

/** The hub's name for the world, a UUID; made once and kept with its records. */
async function hubIdOf(garden: GardenStore): Promise<string> {
  const kept = await garden.own('hub-id')
  if (kept !== null) return kept
  const made = randomUUID()
  await garden.setOwn('hub-id', made)
  return made
}

/** Messages to the gardener by every way there is. */
export async function wireDelivery(options: {
  readonly garden: GardenStore
  readonly clock: Clock
  readonly manner: () => Manner
  readonly publish: Publish
  /** Why the broker cannot be reached now; null: it can. */
  readonly brokerProblem: () => string | null
  readonly live: LiveFeed
  readonly log: Logger
  readonly onFatal: (error: unknown) => void
}): Promise<WiredDelivery> {
  const { garden, clock, manner, publish, live, log, onFatal } = options
  const [hubId, keys] = await Promise.all([hubIdOf(garden), pushKeys(garden)])
  const delivery = startDelivery({
    garden,
    clock,
    random: Math.random,
    newId: randomUUID,
    manner,
    senders: {
      'e-mail': createMailSender(),
      webhook: createWebhookSender({ clock, hubId }),
      push: createPushSender({ keys }),
      mqtt: createBrokerSender(publish, options.brokerProblem),
    },
    onChange: () => live.send({ event: 'messages', data: {} }),
    onWarn: (message) => log.warn(message),
    onFatal,
  })
  return {
    delivery,
    messages: {
      touch: () => delivery.touch(),
      test: (routeId) => delivery.test(routeId),
      retry: (routeId) => delivery.retry(routeId),
      pushKey: keys.publicKey,
      hubId,
    },
  }
}
