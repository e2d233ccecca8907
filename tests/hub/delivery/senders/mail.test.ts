import { createServer, type AddressInfo, type Socket } from 'node:net'
import { once } from 'node:events'
import { expect, test } from 'vitest'
import { createMailSender } from '#hub/delivery/senders/mail.ts'
import type { Outgoing } from '#hub/delivery/senders/sender.ts'
import { alarmLetter, repeatNote } from '#hub/delivery/words/letter.ts'
import type { MailTarget, MessageItem, Route } from '#hub/model/route.ts'
import { anAlarm, aRoute } from '../../../support/alarm-fixture.ts'
import { decodeWords, startMailServer } from '../../../support/mail-server.ts'
import { TEST_CERTIFICATE, TEST_KEY } from '../../../support/test-certificate.ts'

const MADE_AT = Date.parse('2026-05-04T08:00:00Z')
const UID = '0b9c7a52-2f0e-4c1d-8f43-1234567890ab'

const mailRoute = (port: number, change: Partial<MailTarget> = {}): Route =>
  aRoute({
    target: {
      way: 'e-mail',
      to: 'beds@garden.example',
      from: 'hub@garden.example',
      host: '127.0.0.1',
      port,
      security: 'none',
      anyCertificate: false,
      user: null,
      ...change,
    },
  })

function letterOf(item: Partial<MessageItem> = {}, maybeSent = false): Outgoing {
  const items: MessageItem[] = [
    { alarm: anAlarm(), bed: 'Long bed', reasons: ['raised'], since: MADE_AT, ...item },
  ]
  const context = { garden: 'Low field', zone: 'Europe/Lisbon', linkBase: 'http://hub.example' }
  return {
    uid: UID,
    madeAt: MADE_AT,
    held: null,
    items,
    test: false,
    maybeSent,
    letter: alarmLetter({ items, held: null }, context),
    note: maybeSent ? repeatNote() : null,
  }
}
const send = createMailSender({ timeoutMs: 1500 })

test('a mail says what, where, how sure and what to do, and that a program made it', async () => {
  await using server = await startMailServer()
  const outcome = await send(mailRoute(server.port), null, letterOf())
  expect(outcome).toEqual({ what: 'sent', answer: '250 taken' })
  const [mail] = server.mails
  expect(mail).toMatchObject({ from: 'hub@garden.example', to: ['beds@garden.example'] })
  expect(mail!.headers.get('auto-submitted')).toBe('auto-generated')
  expect(mail!.headers.get('message-id')).toBe(`<${UID}@garden.example>`)
  expect(Date.parse(mail!.headers.get('date')!)).toBe(MADE_AT)
  expect(mail!.headers.get('subject')).toBe('Long bed: Harmful shift')
  expect(mail!.headers.has('loamline-possible-repeat')).toBe(false)
  expect(mail!.text).toContain('Long bed: the pH rose by 1.4 ± 0.2.')
  expect(mail!.text).toContain('Measure by hand first.')
  expect(mail!.text).toContain('http://hub.example/bed/3')
  expect(mail!.html).toContain('<p>Long bed: the pH rose by 1.4 ± 0.2.</p>')
})

test('a possible repeat says so and keeps its id', async () => {
  await using server = await startMailServer()
  await send(mailRoute(server.port), null, letterOf({}, true))
  const [mail] = server.mails
  expect(mail!.headers.get('loamline-possible-repeat')).toBe('yes')
  expect(mail!.headers.get('message-id')).toBe(`<${UID}@garden.example>`)
  expect(mail!.text.startsWith('This may be a repeat')).toBe(true)
})

test('nothing in a name becomes a header or a tag', async () => {
  await using server = await startMailServer()
  const bed = 'Beet\r\nBcc: other@example.org\r\n\r\n<script>alert(1)</script>'
  await send(mailRoute(server.port), null, letterOf({ bed }))
  const [mail] = server.mails
  expect(mail!.to).toEqual(['beds@garden.example'])
  expect(mail!.headers.has('bcc')).toBe(false)
  expect(decodeWords(mail!.headers.get('subject')!)).toBe(
    'Beet Bcc: other@example.org <script>alert(1)</script>: Harmful shift',
  )
  expect(mail!.html).not.toContain('<script>')
  expect(mail!.html).toContain('&lt;script&gt;')
})

test('STARTTLS is demanded: the name and password go over the encrypted line alone', async () => {
  const withTls = { key: TEST_KEY, cert: TEST_CERTIFICATE }
  await using server = await startMailServer({
    ...withTls,
    authOptional: false,
    onAuth: ({ username, password }, _session, done) =>
      password === 'compost heap'
        ? done(null, { user: username ?? '' })
        : done(new Error('no such user')),
  })
  const target = { security: 'starttls', user: 'hub' } as const
  // Signed by itself: nobody vouches for it.
  const strict = await send(mailRoute(server.port, target), 'compost heap', letterOf())
  expect(strict.what).toBe('refused')
  expect(strict.answer).toMatch(/self-signed/)
  const own = mailRoute(server.port, { ...target, anyCertificate: true })
  expect((await send(own, 'wrong', letterOf())).answer).toMatch(/^535 /)
  expect((await send(own, 'compost heap', letterOf())).what).toBe('sent')
  expect(server.mails).toHaveLength(1)
  expect(server.mails[0]).toMatchObject({ secure: true, user: 'hub' })

  await using plain = await startMailServer()
  const refused = await send(
    mailRoute(plain.port, { ...target, anyCertificate: true }),
    'x',
    letterOf(),
  )
  expect(refused.what).toBe('refused')
  expect(plain.mails).toHaveLength(0)
})

test('TLS from the first byte', async () => {
  await using server = await startMailServer({
    secure: true,
    key: TEST_KEY,
    cert: TEST_CERTIFICATE,
  })
  const route = mailRoute(server.port, { security: 'tls', anyCertificate: true })
  expect((await send(route, null, letterOf())).what).toBe('sent')
  expect(server.mails[0]!.secure).toBe(true)
})

test('a recipient that is refused can be put right; a text that is refused cannot', async () => {
  await using noRecipient = await startMailServer({
    onRcptTo: (_address, _session, done) =>
      done(Object.assign(new Error('no such mailbox'), { responseCode: 550 })),
  })
  const unknown = await send(mailRoute(noRecipient.port), null, letterOf())
  expect(unknown).toMatchObject({
    what: 'refused',
    answer: expect.stringMatching(/^550 .*mailbox/),
  })

  await using noText = await startMailServer({
    onData: (stream, _session, done) => {
      stream.resume()
      stream.on('end', () =>
        done(Object.assign(new Error('we do not want this'), { responseCode: 554 })),
      )
    },
  })
  const unwanted = await send(mailRoute(noText.port), null, letterOf())
  expect(unwanted).toMatchObject({ what: 'never', answer: expect.stringMatching(/^554 /) })
})

test('a server that is away, and one that says nothing, took nothing', async () => {
  const server = await startMailServer()
  await server.stop()
  expect((await send(mailRoute(server.port), null, letterOf())).what).toBe('refused')
  const sockets = new Set<Socket>()
  const silent = createServer((socket) => sockets.add(socket))
  silent.listen(0, '127.0.0.1')
  await once(silent, 'listening')
  const { port } = silent.address() as AddressInfo
  const outcome = await send(mailRoute(port), null, letterOf())
  expect(outcome.what).toBe('refused')
  for (const socket of sockets) socket.destroy()
  silent.close()
})

test('a slow server is waited for, as long as it says something in time', async () => {
  await using server = await startMailServer({
    onMailFrom: (_address, _session, done) => void setTimeout(done, 700),
    onRcptTo: (_address, _session, done) => void setTimeout(done, 700),
    onData: (stream, _session, done) => {
      stream.resume()
      stream.on('end', () => setTimeout(() => done(null, 'taken at last'), 700))
    },
  })
  // Longer in all than the longest wait for one answer.
  const outcome = await send(mailRoute(server.port), null, letterOf())
  expect(outcome).toEqual({ what: 'sent', answer: '250 taken at last' })
})

test('a line that breaks after the text leaves it open whether it arrived', async () => {
  await using server = await startMailServer({
    onData: (stream) => {
      stream.resume()
      // Takes everything and never answers.
    },
  })
  const outcome = await send(mailRoute(server.port), null, letterOf())
  expect(outcome.what).toBe('unsure')
})
