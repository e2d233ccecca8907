/** What the hub sends. */
interface Pushed {
  readonly title: string
  readonly body: string
  readonly tag: string
  readonly path: string
}

const isPushed = (value: unknown): value is Pushed =>
  typeof value === 'object' &&
  value !== null &&
  ['title', 'body', 'tag', 'path'].every(
    (name) => typeof (value as Record<string, unknown>)[name] === 'string',
  )

function read(data: PushMessageData | null): Pushed | null {
  try {
    const value: unknown = data?.json()
    return isPushed(value) ? value : null
  } catch {
    return null
  }
}

/** Brings the page at `path` to the front, in a window that is there if there is one. */
async function open(scope: ServiceWorkerGlobalScope, path: string): Promise<void> {
  const url = new URL(path, scope.location.origin)
  // Whoever can push could otherwise send people anywhere.
  const target = url.origin === scope.location.origin ? url.href : scope.location.origin
  const [window] = await scope.clients.matchAll({ type: 'window' })
  if (window === undefined) await scope.clients.openWindow(target)
  else {
    await window.focus()
    await window.navigate(target)
  }
}

/** What the worker does when the hub sends a message while no page is open. */
export function watchPush(scope: ServiceWorkerGlobalScope): void {
  scope.addEventListener('push', (event) => {
    const pushed = read(event.data)
    // Browsers demand that something is shown for every message.
    const { title, body, tag, path } = pushed ?? {
      title: 'Loamline',
      body: '',
      tag: 'unread',
      path: '/alarms',
    }
    event.waitUntil(
      scope.registration.showNotification(title, {
        body,
        tag,
        icon: '/icons/strip-192.png',
        data: { path },
      }),
    )
  })
  scope.addEventListener('notificationclick', (event) => {
    event.notification.close()
    const { path = '/alarms' } = (event.notification.data ?? {}) as { path?: string }
    event.waitUntil(open(scope, path))
  })
}
