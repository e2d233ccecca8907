import { X509Certificate } from 'node:crypto'
import { readFileSync } from 'node:fs'
import type { IncomingMessage } from 'node:http'
import { request as httpsRequest } from 'node:https'
import { Readable } from 'node:stream'
import { pipeline } from 'node:stream/promises'
import { checkServerIdentity } from 'node:tls'
import type { ReadableStream } from 'node:stream/web'

export type HubFetch = (url: URL, init?: RequestInit & { duplex?: 'half' }) => Promise<Response>

/**
 * `fetch` to the hub on this machine, which may speak HTTPS under a name that this machine does not call it by: it has to
 * show the very certificate that its settings name, or one that is good for the name asked for.
 *
 * @param certificateFile null: HTTP, or HTTPS with a certificate this machine trusts anyway
 */
export function hubFetch(certificateFile: string | null): HubFetch {
  if (certificateFile === null) return (url, init) => fetch(url, init)
  return async (url, init) => {
    if (url.protocol !== 'https:') return fetch(url, init)
    const ca = readFileSync(certificateFile)
    const own = new X509Certificate(ca).fingerprint256
    const asked = new Request(url, init)
    const request = httpsRequest(url, {
      method: asked.method,
      headers: Object.fromEntries(asked.headers),
      ca,
      // What is trusted is this certificate itself, whoever vouches for it.
      allowPartialTrustChain: true,
      checkServerIdentity: (name, shown) =>
        shown.fingerprint256 === own ? undefined : checkServerIdentity(name, shown),
    })
    const answered = new Promise<IncomingMessage>((resolve, reject) => {
      request.once('response', resolve)
      request.once('error', reject)
    })
    if (asked.body === null) request.end()
    else {
      const sent = pipeline(Readable.fromWeb(asked.body as ReadableStream), request)
      // The hub may answer before it has everything; what went wrong on the way is then in its answer.
      sent.catch(() => {})
    }
    return responseOf(await answered)
  }
}

function responseOf(message: IncomingMessage): Response {
  const headers = new Headers()
  for (const [name, value] of Object.entries(message.headers)) {
    for (const one of [value ?? []].flat()) headers.append(name, one)
  }
  const status = message.statusCode ?? 502
  const bare = status === 204 || status === 304
  if (bare) message.resume()
  const body = bare
    ? null
    : (Readable.toWeb(message) as unknown as ConstructorParameters<typeof Response>[0])
  return new Response(body, { status, headers })
}
