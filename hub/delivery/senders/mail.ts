import { SECOND } from '../../model/clock.ts'
import { letterHtml } from '../words/letter-html.ts'
import { letterText } from '../words/letter-text.ts'
import { shownAnswer, troubleOf, type Outcome, type Sender } from './sender.ts'

/** What nodemailer tells of a connection that failed. */
interface MailError extends Error {
  readonly response?: string
  readonly responseCode?: number
}

export interface MailOptions {
  /** Longest wait for the server at any point, ms. @default 10 s to connect, 30 s between two answers */
  readonly timeoutMs?: number
}

/**
 * Whether the server has said that it takes the text of the message now. From then on a broken line does not tell
 * whether it was taken; RFC 5321 4.5.3.2.6 knows the case: the client sends it again, which may double it.
 */
function watchTalk() {
  let handed = false
  const note = (entry: unknown, text: unknown): void => {
    const from = (entry as { readonly tnx?: string } | undefined)?.tnx
    if (from === 'server' && typeof text === 'string' && text.startsWith('354')) handed = true
  }
  const ignore = (): void => undefined
  return {
    handed: (): boolean => handed,
    logger: {
      level: ignore,
      trace: ignore,
      debug: note,
      info: ignore,
      warn: ignore,
      error: ignore,
      fatal: ignore,
    },
  }
}

function failed(error: MailError, handed: boolean): Outcome {
  const { response, responseCode } = error
  if (responseCode === undefined) {
    return { what: handed ? 'unsure' : 'refused', answer: troubleOf(error) }
  }
  const answer = response === undefined ? troubleOf(error) : shownAnswer(response)
  // Refused after its text: this very message is not wanted. A refusal before that is about names, doors and
  // passwords, which people put right.
  return { what: handed && responseCode >= 500 ? 'never' : 'refused', answer }
}

/** Right side of a Message-ID (RFC 5322, 3.6.4): plain characters alone. */
function messageDomain(from: string): string {
  const domain = from.slice(from.lastIndexOf('@') + 1)
  return /^[A-Za-z0-9.-]+$/.test(domain) ? domain : 'loamline.invalid'
}

/**
 * E-mail by SMTP (RFC 5321), a connection for each. Marked as made by a program (RFC 3834), so that nobody's absence
 * notice answers it, under a Message-ID that stays over all tries.
 */
export function createMailSender(options: MailOptions = {}): Sender {
  const { timeoutMs } = options
  return async (route, password, message) => {
    const { target } = route
    if (target.way !== 'e-mail') throw new Error(`route ${route.id} does not send e-mail`)
    const { host, port, security, user, anyCertificate } = target
    const talk = watchTalk()
    // Loaded by the first message: most hubs send none.
    const { createTransport } = await import('nodemailer')
    const transport = createTransport({
      host,
      port,
      secure: security === 'tls',
      requireTLS: security === 'starttls',
      ignoreTLS: security === 'none',
      tls: { rejectUnauthorized: !anyCertificate },
      ...(user === null ? {} : { auth: { user, pass: password ?? '' } }),
      connectionTimeout: timeoutMs ?? 10 * SECOND,
      greetingTimeout: timeoutMs ?? 10 * SECOND,
      socketTimeout: timeoutMs ?? 30 * SECOND,
      logger: talk.logger,
      transactionLog: true,
      disableFileAccess: true,
      disableUrlAccess: true,
    })
    const { letter, note, uid } = message
    try {
      const sent = await transport.sendMail({
        // As parts, never as a line to be taken apart: nothing in an address can become a header.
        from: { name: '', address: target.from },
        to: [{ name: '', address: target.to }],
        subject: letter.subject,
        text: letterText(letter, note),
        html: letterHtml(letter, note),
        messageId: `<${uid}@${messageDomain(target.from)}>`,
        date: new Date(message.madeAt),
        headers: {
          'Auto-Submitted': 'auto-generated',
          ...(message.maybeSent ? { 'Loamline-Possible-Repeat': 'yes' } : {}),
        },
      })
      return { what: 'sent', answer: shownAnswer(sent.response) }
    } catch (error) {
      return failed(error as MailError, talk.handed())
    } finally {
      transport.close()
    }
  }
}
