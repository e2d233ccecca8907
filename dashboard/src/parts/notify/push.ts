import type { Subscription } from './route-draft.ts'

/** Whether this browser can take messages while no page is open. */
export type PushReadiness = 'ready' | 'not secure' | 'none' | 'denied'

export function pushReadiness(): PushReadiness {
  if (!window.isSecureContext) return 'not secure'
  if (!('serviceWorker' in navigator && 'PushManager' in window && 'Notification' in window)) {
    return 'none'
  }
  return Notification.permission === 'denied' ? 'denied' : 'ready'
}

function bytesOf(base64url: string): Uint8Array<ArrayBuffer> {
  const text = atob(base64url.replaceAll('-', '+').replaceAll('_', '/'))
  return Uint8Array.from(text, (sign) => sign.codePointAt(0) ?? 0)
}

/** Asks the person, then the browser, for a place where the hub can leave messages. */
export async function subscribe(publicKey: string): Promise<Subscription> {
  const registration = await navigator.serviceWorker.ready
  const taken = await registration.pushManager.subscribe({
    userVisibleOnly: true,
    applicationServerKey: bytesOf(publicKey),
  })
  const { endpoint, keys } = taken.toJSON()
  return {
    endpoint: endpoint ?? '',
    keys: { p256dh: keys?.['p256dh'] ?? '', auth: keys?.['auth'] ?? '' },
  }
}
