import { KEPT_AT, keptAs } from './kept-as.ts'
import { watchPush } from './push.ts'

/** Files of the pages, and a name that changes with any of them; filled in when they are built. */
declare const SHELL_FILES: readonly string[]
declare const SHELL_VERSION: string
declare const self: ServiceWorkerGlobalScope

const SHELL = `loamline shell ${SHELL_VERSION}`
const ANSWERS = `loamline answers ${SHELL_VERSION}`
/** The page that every address of the dashboard begins with. */
const PAGE = '/index.html'
const MOST_ANSWERS = 400
/** A hub out of reach often does not refuse, it only never answers. */
const PATIENCE_MS = 6000
/** Who signs in or out leaves nothing for the next one at this browser. */
const WHO = /^\/api\/(sign-in|sign-out|owner)$/

/** Names of files carry a hash of what is in them: what an older shell holds need not be fetched again. */
async function fillShell(): Promise<void> {
  const shell = await caches.open(SHELL)
  await Promise.all(
    SHELL_FILES.map(async (file) => {
      const known = file.startsWith('/assets/') ? await caches.match(file) : undefined
      await (known === undefined
        ? shell.add(new Request(file, { cache: 'no-cache' }))
        : shell.put(file, known))
    }),
  )
}

async function dropOld(): Promise<void> {
  const mine = (name: string): boolean => name.startsWith('loamline ')
  const old = (await caches.keys()).filter(
    (name) => mine(name) && name !== SHELL && name !== ANSWERS,
  )
  await Promise.all(old.map((name) => caches.delete(name)))
  await self.clients.claim()
}

async function fromShell(file: string, request: Request): Promise<Response> {
  const shell = await caches.open(SHELL)
  return (await shell.match(file)) ?? fetch(request)
}

interface Told {
  readonly keep: readonly { readonly name: string; readonly text: string; readonly at: number }[]
}
const isKeep = (data: unknown): data is Told =>
  typeof data === 'object' && data !== null && 'keep' in data

/** What a page had fetched before there was a worker. */
async function keepAll(told: Told['keep']): Promise<void> {
  const answers = await caches.open(ANSWERS)
  for (const { name, text, at } of told) {
    const headers = { 'content-type': 'application/json', [KEPT_AT]: String(at) }
    await answers.put(name, new Response(text, { headers }))
  }
}

async function keep(name: string, response: Response): Promise<void> {
  const answers = await caches.open(ANSWERS)
  const headers = new Headers(response.headers)
  headers.set(KEPT_AT, String(Date.now()))
  await answers.put(name, new Response(await response.blob(), { headers }))
  const names = await answers.keys()
  await Promise.all(names.slice(0, -MOST_ANSWERS).map((one) => answers.delete(one)))
}

/** The hub's own answer; without a connection the one that was kept, which says when it came. */
async function answer(event: FetchEvent, name: string): Promise<Response> {
  const asked = fetch(event.request)
  const kept = async (): Promise<Response | undefined> => (await caches.open(ANSWERS)).match(name)
  const heard = asked.then((response) => {
    if (response.status === 401) event.waitUntil(caches.delete(ANSWERS))
    if (response.ok) event.waitUntil(keep(name, response.clone()))
    return response
  })
  const late = new Promise<'late'>((resolve) => setTimeout(resolve, PATIENCE_MS, 'late'))
  try {
    const first = await Promise.race([heard, late])
    if (first !== 'late') {
      // A server in front of the hub answers for it when it is away.
      const away = first.status === 502 || first.status === 504
      return (away ? await kept() : undefined) ?? first
    }
    return (await kept()) ?? (await heard)
  } catch (error) {
    const old = await kept()
    if (old !== undefined) return old
    throw error
  } finally {
    heard.catch(() => undefined)
  }
}

self.addEventListener('install', (event) => event.waitUntil(fillShell()))
self.addEventListener('activate', (event) => event.waitUntil(dropOld()))
self.addEventListener('message', (event) => {
  const { data } = event as { readonly data: unknown }
  if (data === 'take over') event.waitUntil(self.skipWaiting())
  else if (isKeep(data)) event.waitUntil(keepAll(data.keep))
})
self.addEventListener('fetch', (event) => {
  const { request } = event
  const url = new URL(request.url)
  if (url.origin !== self.location.origin) return
  if (request.method !== 'GET') {
    if (WHO.test(url.pathname)) event.waitUntil(caches.delete(ANSWERS))
    return
  }
  const name = keptAs(url, Date.now())
  if (name !== null) event.respondWith(answer(event, name))
  else if (url.pathname.startsWith('/api/')) return
  else if (request.mode === 'navigate') event.respondWith(fromShell(PAGE, request))
  else if (SHELL_FILES.includes(url.pathname)) event.respondWith(fromShell(url.pathname, request))
})
watchPush(self)
