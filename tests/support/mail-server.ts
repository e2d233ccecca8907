import { once } from 'node:events'
import type { AddressInfo } from 'node:net'
import { SMTPServer, type SMTPServerOptions } from 'smtp-server'

/** A mail as it arrived. */
export interface Mail {
  readonly raw: string
  readonly from: string
  readonly to: readonly string[]
  /** Header lines by their name in small letters, unfolded; several of one name are joined with a line break. */
  readonly headers: ReadonlyMap<string, string>
  /** Plain text and HTML, decoded. */
  readonly text: string
  readonly html: string
  /** Whether the line was encrypted, and who signed in. */
  readonly secure: boolean
  readonly user: string | null
}

export interface MailServer extends AsyncDisposable {
  readonly port: number
  readonly mails: Mail[]
  /** Refuses connections from now on. */
  stop(): Promise<void>
  /** Is there again, on the same port. */
  start(): Promise<void>
}

function headersOf(head: string): Map<string, string> {
  const headers = new Map<string, string>()
  for (const line of head.replaceAll(/\r\n[ \t]+/g, ' ').split('\r\n')) {
    const [, name = '', value = ''] = /^([^:]+):\s*(.*)$/s.exec(line) ?? []
    const key = name.toLowerCase()
    headers.set(key, headers.has(key) ? `${headers.get(key)}\n${value}` : value)
  }
  return headers
}

/** RFC 2047 words of a header. */
export function decodeWords(text: string): string {
  return text
    .replaceAll(/(\?=)\s+(=\?)/g, '$1$2')
    .replaceAll(/=\?UTF-8\?([QB])\?([^?]*)\?=/gi, (_, how: string, of: string) =>
      how.toUpperCase() === 'B'
        ? Buffer.from(of, 'base64').toString()
        : quoted(of.replaceAll('_', ' ')),
    )
}

/** Quoted-printable (RFC 2045, 6.7). */
function quoted(text: string): string {
  const bytes = text
    .replaceAll(/=\r\n/g, '')
    .replaceAll(/=([0-9A-F]{2})/g, (_, hex: string) =>
      String.fromCodePoint(Number.parseInt(hex, 16)),
    )
  return Buffer.from(bytes, 'latin1').toString()
}

function partOf(raw: string, type: string): string {
  const at = raw.search(new RegExp(`^content-type: ${type}`, 'im'))
  if (at < 0) return ''
  const part = raw.slice(at).split(/\r\n--/)[0]!
  const [head = '', ...rest] = part.split('\r\n\r\n')
  const body = rest.join('\r\n\r\n')
  const encoding = /content-transfer-encoding: (\S+)/i.exec(head)?.[1]?.toLowerCase()
  if (encoding === 'base64') return Buffer.from(body, 'base64').toString()
  return encoding === 'quoted-printable' ? quoted(body) : body
}

/** A real SMTP server of one test on 127.0.0.1, with or without certificate; it can be away and come back. */
export async function startMailServer(options: SMTPServerOptions = {}): Promise<MailServer> {
  const mails: Mail[] = []
  let port = 0
  let server: SMTPServer | null = null

  async function start(): Promise<void> {
    server = new SMTPServer({
      authOptional: true,
      closeTimeout: 50,
      onData(stream, session, done) {
        const parts: Buffer[] = []
        stream.on('data', (part: Buffer) => parts.push(part))
        stream.on('end', () => {
          const raw = Buffer.concat(parts).toString('latin1')
          const [head = ''] = raw.split('\r\n\r\n')
          const { envelope } = session
          mails.push({
            raw,
            from: envelope.mailFrom === false ? '' : (envelope.mailFrom?.address ?? ''),
            to: envelope.rcptTo.map(({ address }) => address),
            headers: headersOf(head),
            text: partOf(raw, 'text/plain').replaceAll('\r\n', '\n'),
            html: partOf(raw, 'text/html'),
            secure: session.secure,
            user: typeof session.user === 'string' ? session.user : null,
          })
          done(null, 'taken')
        })
      },
      disabledCommands: options.secure === true || options.key !== undefined ? [] : ['STARTTLS'],
      ...options,
    })
    server.on('error', () => undefined)
    const listening = server.listen(port, '127.0.0.1')
    await once(listening, 'listening')
    port = (listening.address() as AddressInfo).port
  }
  async function stop(): Promise<void> {
    const ending = server
    server = null
    if (ending !== null) await new Promise<void>((resolve) => ending.close(() => resolve()))
  }

  await start()
  return { port, mails, stop, start, [Symbol.asyncDispose]: stop }
}
