import mqtt from 'mqtt'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { createBrokerSender } from '#hub/delivery/senders/broker.ts'
import { messageData } from '#hub/delivery/senders/message-data.ts'
import { createMailSender } from '#hub/delivery/senders/mail.ts'
import { createWebhookSender } from '#hub/delivery/senders/webhook.ts'
import type { Outcome, Outgoing, Sender } from '#hub/delivery/senders/sender.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import type { Manner } from '#hub/model/manner.ts'
import type { NewRoute } from '#hub/model/route.ts'
import { aNewRoute } from '../../support/alarm-fixture.ts'
import { startBroker } from '../../support/broker.ts'
import { deliveryHost } from '../../support/delivery-host.ts'
import { startMailServer } from '../../support/mail-server.ts'
import { tempDir } from '../../support/temp-dir.ts'
import { until } from '../../support/until.ts'
import { startReceiver } from '../../support/webhook-receiver.ts'

const NOON = Date.parse('2026-05-04T11:00:00Z')
let folder: ReturnType<typeof tempDir>
beforeEach(() => {
  folder = tempDir()
})
afterEach(() => folder[Symbol.dispose]())

const mailTo = (port: number): NewRoute['target'] => ({
  way: 'e-mail',
  to: 'beds@garden.example',
  from: 'hub@garden.example',
  host: '127.0.0.1',
  port,
  security: 'none',
  anyCertificate: false,
  user: null,
})

/** A sender that does as it is told and remembers what it was given. */
function scripted(outcomes: readonly Outcome['what'][]) {
  const given: Outgoing[] = []
  const sender: Sender = async (_route, _secret, message) => {
    given.push(message)
    return { what: outcomes[given.length - 1] ?? 'sent', answer: `answer ${given.length}` }
  }
  return { given, sender }
}

test('a mail server that is away for hours: every alarm arrives once it is back, in order, once', async () => {
  await using server = await startMailServer()
  await using host = await deliveryHost(
    folder.path,
    { 'e-mail': createMailSender({ timeoutMs: 1000 }) },
    { now: NOON },
  )
  await host.garden.addRoute(aNewRoute({ target: mailTo(server.port) }), null, NOON)
  await host.raise({ sentence: 'The first.' })
  expect(server.mails).toHaveLength(1)
  await server.stop()
  await host.raise({ sentence: 'The second.' })
  await host.pass(10 * MINUTE)
  await host.raise({ sentence: 'The third.' })
  const [third, second] = await host.garden.messages({ limit: 2 })
  expect(second).toMatchObject({ state: 'failed', answer: expect.stringMatching(/ECONNREFUSED/) })
  expect(second!.nextTryAt).toBeGreaterThan(host.now())
  expect(third).toMatchObject({ state: 'waiting', tries: 0 })
  for (let i = 0; i < 12; i++) await host.pass(20 * MINUTE)
  // Three tries in a row without success are trouble the hub tells about itself.
  expect(host.delivery.troubles()).toMatchObject([
    { subject: 'delivery', sentence: expect.stringMatching(/^Messages by 'Kitchen' do not get/) },
  ])
  await server.start()
  await host.pass(2 * HOUR)
  const texts = server.mails.map(({ text }) => /The (first|second|third)\./.exec(text)?.[1])
  expect(texts).toEqual(['first', 'second', 'third'])
  for (const mail of server.mails) expect(mail.headers.has('loamline-possible-repeat')).toBe(false)
  expect(host.delivery.troubles()).toEqual([])
  expect((await host.garden.openMessages()).length).toBe(0)
})

test('trouble with a route ends when nobody wants it any more', async () => {
  const { sender } = scripted(Array.from({ length: 9 }, () => 'refused' as const))
  await using host = await deliveryHost(folder.path, { 'e-mail': sender }, { now: NOON })
  const route = await host.garden.addRoute(aNewRoute({ target: mailTo(25) }), null, NOON)
  await host.raise({ sentence: 'The first.' })
  for (let i = 0; i < 6; i++) await host.pass(20 * MINUTE)
  expect(host.delivery.troubles()).toHaveLength(1)
  await host.garden.removeRoute(route.id)
  host.delivery.touch()
  await host.delivery.settled()
  expect(host.delivery.troubles()).toEqual([])
})

test('a webhook that fails in every way there is: none lost; only what may be a repeat is marked so', async () => {
  await using receiver = await startReceiver()
  await using host = await deliveryHost(
    folder.path,
    { webhook: createWebhookSender({ clock: () => NOON, hubId: 'h', timeoutMs: 300 }) },
    { now: NOON },
  )
  const target = { way: 'webhook', url: receiver.url, privateAllowed: true } as const
  await host.garden.addRoute(aNewRoute({ target }), 'a key of some length', NOON)
  const raised: number[] = []
  const manners = [200, 500, 'hang', 200, 'cut', 503, 'away'] as const
  for (const manner of manners) {
    if (manner === 'away') await receiver.stop()
    else receiver.manner = manner
    raised.push((await host.raise()).id)
    await host.pass(2 * MINUTE)
  }
  await receiver.start()
  receiver.manner = 200
  for (let i = 0; i < 4; i++) await host.pass(HOUR)
  const idsOf = (all: typeof receiver.taken): number[] =>
    all.flatMap(({ event }) =>
      (event['data'] as { alarms: { id: number }[] }).alarms.map(({ id }) => id),
    )
  expect(idsOf(receiver.taken)).toEqual(raised)
  // Whatever reached the receiver a second time says so and has the id of the first time.
  const counts = new Map<string, number>()
  for (const { event } of receiver.seen) {
    const times = (counts.get(event.id) ?? 0) + 1
    counts.set(event.id, times)
    if (event['possiblerepeat'] === true) expect(times).toBeGreaterThan(1)
  }
  const cutOff = receiver.seen.filter(({ event }) => event['possiblerepeat'] === true)
  expect(cutOff.length).toBeGreaterThan(0)
  expect(new Set(receiver.taken.map(({ event }) => event.id)).size).toBe(raised.length)
})

test('a broker that goes away and comes back has every message', async () => {
  const broker = await startBroker()
  const subscriber = await mqtt.connectAsync(broker.url, {
    clean: false,
    clientId: 'kitchen-screen',
  })
  await subscriber.subscribeAsync('lm1/hub/messages/+', { qos: 1 })
  const got: { id: string; alarms: { id: number }[] }[] = []
  subscriber.on('message', (_topic, payload) =>
    got.push(JSON.parse(payload.toString()) as (typeof got)[number]),
  )
  let up = true
  const publisher = mqtt.connect(broker.url, { reconnectPeriod: 50 })
  publisher.on('error', () => undefined)
  subscriber.on('error', () => undefined)
  const sender = createBrokerSender(
    async (topic, payload, { retain }) => {
      await publisher.publishAsync(topic, payload, { qos: 1, retain })
    },
    () => (up && publisher.connected ? null : 'the broker is down'),
  )
  try {
    await using host = await deliveryHost(folder.path, { mqtt: sender }, { now: NOON })
    await host.garden.addRoute(aNewRoute({ target: { way: 'mqtt', retain: true } }), null, NOON)
    await until('connected', () => publisher.connected)
    const raised = [(await host.raise()).id]
    await broker.stop()
    up = false
    raised.push((await host.raise()).id, (await host.raise()).id)
    expect(await host.garden.openMessages()).toMatchObject([
      { state: 'failed', answer: 'the broker is down' },
      { state: 'waiting' },
    ])
    await broker.start()
    await until('connected again', () => publisher.connected && subscriber.connected)
    up = true
    await host.pass(HOUR)
    await until('all arrived', () => got.length >= 3)
    expect(got.flatMap(({ alarms }) => alarms.map(({ id }) => id))).toEqual(raised)
    expect(new Set(got.map(({ id }) => id)).size).toBe(3)
  } finally {
    await publisher.endAsync(true)
    await subscriber.endAsync(true)
    await broker.close()
  }
})

test('what was cut off before it was marked as sent goes out again under its id, as a possible repeat', async () => {
  const { given, sender } = scripted([])
  await using host = await deliveryHost(folder.path, { mqtt: sender }, { now: NOON })
  await host.garden.addRoute(aNewRoute(), null, NOON)
  await host.raise()
  const [sent] = await host.garden.messages({ limit: 1 })
  // As a hub leaves it that is killed between sending and writing down that it has.
  await host.garden.saveMessage({ ...sent!, state: 'sending', sentAt: null })
  await host.restart()
  expect(given.map(({ uid, maybeSent }) => [uid, maybeSent])).toEqual([
    [sent!.uid, false],
    [sent!.uid, true],
  ])
  expect(given[1]!.note).toMatch(/may be a repeat/)
  expect(await host.garden.messages({ limit: 1 })).toMatchObject([{ state: 'sent', tries: 2 }])
})

test('an open outcome is a possible repeat from then on, a refusal is none', async () => {
  const { given, sender } = scripted(['refused', 'unsure', 'refused', 'sent'])
  await using host = await deliveryHost(folder.path, { mqtt: sender }, { now: NOON })
  await host.garden.addRoute(aNewRoute(), null, NOON)
  await host.raise()
  for (let i = 0; i < 3; i++) await host.pass(HOUR)
  expect(given.map(({ maybeSent }) => maybeSent)).toEqual([false, false, true, true])
})

test('what is never taken is given up with its reason and holds nothing up', async () => {
  const { given, sender } = scripted(['never', 'sent'])
  await using host = await deliveryHost(folder.path, { mqtt: sender }, { now: NOON })
  await host.garden.addRoute(aNewRoute(), null, NOON)
  await host.raise()
  await host.raise()
  expect(given).toHaveLength(2)
  const [second, first] = await host.garden.messages({ limit: 2 })
  expect(first).toMatchObject({ state: 'given-up', answer: 'answer 1', nextTryAt: null })
  expect(second).toMatchObject({ state: 'sent' })
})

test('tries come slower and slower, and end after three days', async () => {
  const { given, sender } = scripted(Array.from({ length: 500 }, () => 'refused' as const))
  await using host = await deliveryHost(folder.path, { mqtt: sender }, { now: NOON })
  await host.garden.addRoute(aNewRoute(), null, NOON)
  await host.raise()
  const waits: number[] = []
  for (let i = 0; i < 400; i++) {
    const [open] = await host.garden.openMessages()
    if (open === undefined) break
    waits.push(open.nextTryAt! - host.now())
    await host.pass(open.nextTryAt! - host.now())
  }
  expect(waits[0]).toBeGreaterThanOrEqual(15_000)
  expect(waits[0]).toBeLessThanOrEqual(30_000)
  expect(Math.max(...waits)).toBeLessThanOrEqual(HOUR)
  expect(Math.min(...waits.slice(8))).toBeGreaterThanOrEqual(HOUR / 2)
  expect(given.length).toBeLessThan(160)
  expect(await host.garden.messages({ limit: 1 })).toMatchObject([{ state: 'given-up' }])
  expect(host.now() - NOON).toBeGreaterThan(3 * DAY)
})

test('a message that could not be sent in the evening does not ring in the night', async () => {
  const { given, sender } = scripted(['refused'])
  const evening = Date.parse('2026-05-04T20:50:00Z')
  await using host = await deliveryHost(folder.path, { mqtt: sender }, { now: evening })
  const quiet = { from: '22:00', to: '07:00', letThrough: 'high' } as const
  await host.garden.addRoute(aNewRoute({ quiet }), null, evening)
  await host.raise({ priority: 'medium' })
  expect(given).toHaveLength(1)
  // Lisbon is an hour ahead of UTC in May: 22:30 and 06:59 there.
  await host.pass(40 * MINUTE)
  await host.pass(8 * HOUR + 29 * MINUTE)
  expect(given).toHaveLength(1)
  await host.pass(MINUTE)
  expect(given).toHaveLength(2)
})

test('repeated after an outage only when the time has run anew; acknowledged, never', async () => {
  const { given, sender } = scripted(['refused', 'sent'])
  await using host = await deliveryHost(folder.path, { mqtt: sender }, { now: NOON })
  await host.garden.addRoute(aNewRoute({ repeatMin: 60 }), null, NOON)
  const alarm = await host.raise()
  await host.pass(3 * HOUR)
  expect(given).toHaveLength(2)
  await host.pass(59 * MINUTE)
  expect(given).toHaveLength(2)
  await host.pass(MINUTE)
  expect(given).toHaveLength(3)
  expect(given[2]!.letter.subject).toBe('Still not acknowledged: Hub and probes: Harmful shift')
  await host.note({ ...alarm, state: 'acknowledged', acknowledgedAt: host.now() }, 'acknowledged')
  await host.pass(DAY)
  expect(given).toHaveLength(3)
})

test('nothing is told twice after a restart, whatever the hub remembers', async () => {
  const { given, sender } = scripted([])
  await using host = await deliveryHost(folder.path, { mqtt: sender }, { now: NOON })
  await host.raise({ sentence: 'Before there was a route.' })
  await host.garden.addRoute(aNewRoute({ gatherMin: 5 }), null, NOON)
  await host.raise({ sentence: 'While it gathers.' })
  await host.restart()
  await host.pass(5 * MINUTE)
  await host.restart()
  await host.restart()
  expect(given.flatMap(({ items }) => items.map(({ alarm }) => alarm.sentence))).toEqual([
    'While it gathers.',
  ])
})

test('a route that is off sends nothing and begins anew when it is on; one that is removed takes its messages along', async () => {
  const { given, sender } = scripted(['refused', 'refused', 'refused'])
  await using host = await deliveryHost(folder.path, { mqtt: sender }, { now: NOON })
  const { id } = await host.garden.addRoute(aNewRoute({ on: false }), null, NOON)
  await host.raise()
  expect(given).toHaveLength(0)
  await host.garden.changeRoute(id, aNewRoute())
  await host.pass(DAY)
  expect(given).toHaveLength(0)
  await host.raise()
  expect(given).toHaveLength(1)
  await host.garden.removeRoute(id)
  await host.pass(DAY)
  expect(given).toHaveLength(1)
  expect(await host.garden.messages({ limit: 10 })).toEqual([])
})

test('a test goes at once, whatever the hour, stands in no list, and wakes what waits', async () => {
  const { given, sender } = scripted(['refused', 'sent', 'sent'])
  await using host = await deliveryHost(folder.path, { mqtt: sender }, { now: NOON })
  const { id } = await host.garden.addRoute(aNewRoute(), null, NOON)
  await host.raise()
  expect(await host.delivery.test(id)).toEqual({ what: 'sent', answer: 'answer 2' })
  await host.delivery.settled()
  expect(given.map(({ test: isTest }) => isTest)).toEqual([false, true, false])
  expect(given[1]!.letter.subject).toMatch(/^Test message of/)
  expect(await host.garden.messages({ limit: 10 })).toHaveLength(1)
  expect(await host.delivery.test(99)).toBeNull()
})

test('messages are written in the language of the garden', async () => {
  const { given, sender } = scripted(['unsure'])
  await using host = await deliveryHost(
    folder.path,
    { mqtt: sender },
    { now: NOON, manner: () => ({ language: 'de', units: 'metric' }) },
  )
  await host.garden.addRoute(aNewRoute({ repeatMin: 60 }), null, NOON)
  await host.raise()
  await host.pass(HOUR)
  expect(given[0]!.letter.subject).toBe('Hub und Sonden: Schädlicher Sprung')
  expect(given[1]!.note).toMatch(/Wiederholung/)
})

test('a message that waits is told in the language and units the garden has when it is sent', async () => {
  const { sender, given } = scripted(['refused', 'sent'])
  let manner: Manner = { language: 'en', units: 'metric' }
  await using host = await deliveryHost(
    folder.path,
    { mqtt: sender },
    { now: NOON, manner: () => manner },
  )
  await host.garden.addRoute(aNewRoute(), null, NOON)
  const texts = {
    'en metric': { sentence: 'About 10 L are missing.', advice: 'Water slowly.' },
    'de metric': { sentence: 'Etwa 10 L fehlen.', advice: 'Langsam gießen.' },
    'de us': { sentence: 'Etwa 2,6 gal fehlen.', advice: 'Langsam gießen.' },
  }
  await host.raise({ kind: 'dry', ...texts['en metric'], texts })
  manner = { language: 'de', units: 'us' }
  await host.pass(DAY)
  expect(
    given.map(({ items }) => messageData({ ...given[0]!, items }).alarms[0]!.sentence),
  ).toEqual(['About 10 L are missing.', 'Etwa 2,6 gal fehlen.'])
  const [, second] = given
  expect(second!.letter.subject).toMatch(/Trockener Boden/)
  expect(second!.letter.places[0]!.entries[0]).toMatchObject(texts['de us'])
})
