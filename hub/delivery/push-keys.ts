import webPush from 'web-push'
import type { DeliveryStore } from '../store/delivery-store.ts'

/** The pair of keys a hub signs its Web Push messages with (RFC 8292), base64url. */
export interface PushKeys {
  readonly publicKey: string
  readonly privateKey: string
}

/** The hub's keys; made once and kept with its records, for browsers are bound to them. */
export async function pushKeys(store: Pick<DeliveryStore, 'own' | 'setOwn'>): Promise<PushKeys> {
  const kept = await store.own('push-keys')
  if (kept !== null) return JSON.parse(kept) as PushKeys
  const made: PushKeys = webPush.generateVAPIDKeys()
  await store.setOwn('push-keys', JSON.stringify(made))
  return made
}
