import type { IClientOptions, MqttClient } from 'mqtt'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { sharedTopics } from '#hub/relay/shared-topics.ts'
import { until } from '#tests/support/until.ts'
import { openStage, type Stage, type StageName } from './broker-stage.ts'

/*
 * Whoever holds the password of one probe, `bed3a`, tries everything against another one, `bed3b`, against the
 * hub and against the broker itself. The same attacks at both brokers.
 */

const STAGES: readonly StageName[] = [
  'the built-in broker',
  'a mosquitto with the files of the hub',
]

/** Where `bed3a` has no business writing. */
const FOREIGN = [
  'lm1/bed3b/up/r',
  'lm1/bed3b/up/b',
  'lm1/bed3b/up/s',
  'lm1/bed3b/up/state',
  'lm1/bed3b/up/birth',
  'lm1/bed3b/up/ch/ph',
  'lm1/bed3b/up/res',
  'lm1/bed3b/dn/cmd',
  'lm1/bed3b/dn/cfg',
  'lm1/bed3b/dn/ack',
  'lm1/bed3b/dn/time',
  'lm1/bed3a/dn/cmd',
  'lm1/bed3a/dn/ack',
  'lm1/hub/state',
  'lm1/hub/up/r',
  'lm1/hub/alerts/bed-1/harmful-shift',
  'lm1/hub/messages/1',
  'lm1/hub/ingest/one',
  'lm1/all/dn/time',
  'lm1/bed3a',
  'lm1/bed3aa/up/r',
  'lm1/Bed3a/up/r',
  'lm1/bed3a /up/r',
  'lm1//up/r',
  '/lm1/bed3a/up/r',
  'LM1/bed3a/up/r',
  'lm2/bed3a/up/r',
  'lm1/bed3b/up/r/bed3a/up/r',
  'elsewhere',
  '/',
] as const
/** What a broker keeps for itself. */
const RESERVED = ['$SYS/broker/version', '$SYS/x', '$share/loamline/lm1/bed3b/up/r', '$CONTROL/x']
/** What is no topic to write to: a broker hangs up. */
const NOT_TOPICS = ['lm1/+/up/r', 'lm1/bed3b/#', '#', '+', 'lm1/bed3a/up/+']

/** What `bed3a` has no business reading. */
const FILTERS = [
  '#',
  '+/#',
  '/#',
  '+/+/+/+',
  'lm1/#',
  'lm1/+/#',
  'lm1/+/dn/#',
  'lm1/+/dn/cmd',
  'lm1/+/up/r',
  'lm1/bed3b/#',
  'lm1/bed3b/dn/cmd',
  'lm1/bed3b/up/r',
  'lm1/bed3a/#',
  'lm1/bed3a/up/#',
  'lm1/hub/#',
  'lm1/hub/+',
  'lm1/hub/alerts/#',
  '+/hub/state',
  '$SYS/#',
  '$SYS/broker/clients/connected',
  '$share/thief/#',
  '$share/thief/lm1/+/up/#',
  '$share/thief/lm1/bed3b/dn/#',
  '$share/loamline/lm1/+/up/r',
  '$share/+/lm1/#',
  '$share/thief/$SYS/#',
  '$queue/lm1/#',
  'elsewhere/#',
]

/** What an attacker sends: to be known again wherever it turns up. */
const FORGED = '{"b":9,"n":666,"u":666,"v":{"ph":3.1}}'
const READING = (n: number): string => `{"b":9,"n":${n},"u":${n + 3},"v":{"ph":6.42}}`

/** Everything a client hears from now on. */
function ears(client: MqttClient): { readonly topic: string; readonly text: string }[] {
  const heard: { topic: string; text: string }[] = []
  client.on('message', (topic, payload) => heard.push({ topic, text: payload.toString() }))
  return heard
}

/** Waits for what comes of an attempt: an acknowledgement, a refusal, the end of the connection. */
async function tryTo(
  client: MqttClient,
  work: (client: MqttClient) => Promise<unknown>,
): Promise<void> {
  let ended = (): void => {}
  const close = new Promise<void>((resolve) => (ended = resolve))
  client.once('close', ended)
  await Promise.race([work(client).catch(() => {}), close])
  client.off('close', ended)
}

describe.each(STAGES)('%s', (name) => {
  let stage: Stage
  let seen: { readonly topic: string; readonly text: string }[]
  /** Numbers of `bed3a`'s own readings, none used twice. */
  let own = 0
  beforeAll(async () => {
    stage = await openStage(name)
    const observer = await stage.observe()
    seen = ears(observer)
    await observer.subscribeAsync('#', { qos: 2 })
  })
  afterAll(async () => {
    await stage[Symbol.asyncDispose]()
  })

  /** What a client sent before this has been handed on, or has not been and never will. */
  async function settled(client: MqttClient): Promise<void> {
    const n = own++
    await client.publishAsync('lm1/bed3a/up/r', READING(n), { qos: 1 })
    await until('its own reading', () => seen.some(({ text }) => text === READING(n)))
    await until('its own reading is stored', () => stage.store.readings.has(`bed3a/9/${n}`))
  }

  const foreignSeen = (): string[] => [
    ...new Set(
      seen
        .filter(({ topic, text }) => text === FORGED && !topic.startsWith('lm1/bed3a/up/'))
        .map(({ topic }) => topic),
    ),
  ]
  const notOfA = (): string[] =>
    [...stage.store.readings.keys()].filter((key) => !key.startsWith('bed3a/'))

  test('what is not its own it cannot write: no topic, no quality of service, retained or not', async () => {
    for (const protocolVersion of stage.versions) {
      const come = (): Promise<MqttClient> => stage.as('bed3a', { protocolVersion })
      let attacker = await come()
      for (const topic of FOREIGN) {
        for (const qos of [0, 1, 2] as const) {
          for (const retain of [false, true]) {
            // A broker that hangs up on one try has not been tried with the next.
            if (!attacker.connected) attacker = await come()
            await tryTo(attacker, (c) => c.publishAsync(topic, FORGED, { qos, retain }))
          }
        }
      }
      // After refusals of QoS 2 the client library waits for what never comes: another connection goes on.
      attacker.stream.destroy()
      const after = await stage.as('bed3a')
      await settled(after)
      await after.endAsync()
    }
    expect(foreignSeen()).toEqual([])
    expect(notOfA()).toEqual([])
  })

  test.each([...RESERVED, ...NOT_TOPICS])('%s it cannot write', async (topic) => {
    for (const protocolVersion of stage.versions) {
      const attacker = await stage.as('bed3a', { protocolVersion })
      for (const retain of [false, true])
        await tryTo(attacker, (c) => c.publishAsync(topic, FORGED, { qos: 0, retain }))
      attacker.stream.destroy()
      const after = await stage.as('bed3a')
      await settled(after)
      await after.endAsync()
    }
    expect(foreignSeen()).toEqual([])
  })

  test('what stands retained for others it can neither replace nor take away', async () => {
    const victim = await stage.as('bed3b')
    await victim.publishAsync('lm1/bed3b/up/birth', '{"mine":1}', { qos: 1, retain: true })
    await stage.front.publish('lm1/bed3b/dn/cfg', '{"id":7}', { retain: true })
    await stage.front.publish('lm1/hub/alerts/bed-1/dry', '{"dry":1}', { retain: true })
    for (const topic of [
      'lm1/bed3b/up/birth',
      'lm1/bed3b/dn/cfg',
      'lm1/hub/alerts/bed-1/dry',
      'lm1/hub/state',
      'lm1/bed3a/dn/cfg',
    ]) {
      for (const text of ['', FORGED]) {
        // On an empty message that is not allowed mosquitto 2.0.11 hangs up.
        const attacker = await stage.as('bed3a')
        await tryTo(attacker, (c) => c.publishAsync(topic, text, { qos: 1, retain: true }))
        await attacker.endAsync(true)
      }
    }
    const attacker = await stage.as('bed3a')
    await settled(attacker)
    const late = await stage.observe()
    const retained = ears(late)
    await late.subscribeAsync('lm1/#', { qos: 1 })
    await until('what is retained', () => retained.length >= 4)
    await settled(attacker)
    const kept = Object.fromEntries(retained.map(({ topic, text }) => [topic, text]))
    expect(kept).toMatchObject({
      'lm1/bed3b/up/birth': '{"mine":1}',
      'lm1/bed3b/dn/cfg': '{"id":7}',
      'lm1/hub/alerts/bed-1/dry': '{"dry":1}',
      'lm1/hub/state': '{"s":"on"}',
    })
    expect(Object.keys(kept)).not.toContain('lm1/bed3a/dn/cfg')
    await Promise.all([victim, attacker, late].map((client) => client.endAsync()))
  })

  test('its last will reaches nothing of others', async () => {
    seen.length = 0
    for (const protocolVersion of stage.versions) {
      for (const topic of [...FOREIGN, ...RESERVED, 'lm1/#']) {
        for (const retain of [false, true]) {
          const will = { topic, payload: Buffer.from(FORGED), qos: 1, retain } as const
          const attacker = await stage.as('bed3a', { protocolVersion, will }).catch(() => null)
          attacker?.stream.destroy()
        }
      }
    }
    const after = await stage.as('bed3a')
    await settled(after)
    await after.endAsync()
    expect(foreignSeen()).toEqual([])
    expect(notOfA()).toEqual([])
  })

  test('its last will below its own topics is delivered: the test above would see one', async () => {
    const will = {
      topic: 'lm1/bed3a/up/state',
      payload: Buffer.from('{"s":"off"}'),
      qos: 1,
    } as const
    const own = await stage.as('bed3a', { will: { ...will, retain: false } })
    own.stream.destroy()
    await until('the will', () => seen.some(({ topic }) => topic === 'lm1/bed3a/up/state'))
  })

  test('nothing of others reaches it, whatever it subscribes to, also after it was away', async () => {
    const victim = await stage.as('bed3b')
    for (const protocolVersion of stage.versions) {
      const session: IClientOptions =
        protocolVersion === 5
          ? { clean: false, properties: { sessionExpiryInterval: 60 } }
          : { clean: false }
      let attacker = await stage.as('bed3a', { protocolVersion, ...session })
      const heard = ears(attacker)
      for (const filter of FILTERS) {
        // Some are refused by the client itself, some by the broker, some are granted and never served.
        await tryTo(attacker, (c) => c.subscribeAsync(filter, { qos: 2 }))
        if (!attacker.connected) attacker = await stage.as('bed3a', { protocolVersion, ...session })
      }
      await attacker.subscribeAsync(['lm1/bed3a/dn/#', 'lm1/hub/state'], { qos: 1 })

      const happen = async (n: number): Promise<void> => {
        await victim.publishAsync('lm1/bed3b/up/r', READING(n), { qos: 1 })
        await victim.publishAsync('lm1/bed3b/up/state', '{"s":"on"}', { qos: 1, retain: true })
        await stage.front.publish('lm1/bed3b/dn/cmd', '{"id":1}', { retain: true })
        await stage.front.publish('lm1/hub/alerts/bed-1/dry', '{}', { retain: true })
        await stage.front.publish('lm1/hub/messages/1', '{}', { retain: false })
        await stage.front.publish('lm1/bed3a/dn/cmd', `{"id":${n}}`, { retain: false })
      }
      const n = protocolVersion * 10
      await happen(n)
      await until('its own command', () => heard.some(({ text }) => text === `{"id":${n}}`))
      attacker.stream.destroy()
      await happen(n + 1)
      const back = await stage.as('bed3a', { protocolVersion, ...session })
      const later = ears(back)
      await happen(n + 2)
      await until('its own command', () => later.some(({ text }) => text === `{"id":${n + 2}}`))
      const topics = new Set([...heard, ...later].map(({ topic }) => topic))
      for (const topic of topics) if (topic.startsWith('lm1/bed3a/dn/')) topics.delete(topic)
      topics.delete('lm1/hub/state')
      expect([...topics]).toEqual([])
      // What was subscribed to must not follow it into the next round.
      await back.endAsync()
      const fresh = await stage.as('bed3a', { clean: true })
      await fresh.endAsync()
    }
    expect(stage.store.readings.has('bed3b/9/42')).toBe(true)
    await victim.endAsync()
  })

  test('under the id of another, or of the hub, it is not let in or is itself; nobody is pushed out', async () => {
    const victim = await stage.as('bed3b', { clean: false })
    const gone: string[] = []
    victim.on('close', () => gone.push('bed3b'))
    const since = stage.front.state()
    for (const clientId of [
      'bed3b',
      'hub',
      'loamline-hub',
      'Observer1',
      '',
      '#',
      'lm1/bed3b',
      'x'.repeat(23),
    ]) {
      for (const protocolVersion of stage.versions) {
        const options = { clientId, username: 'bed3a', password: stage.passwordOf.bed3a }
        const attacker = await stage
          .enter({ ...options, protocolVersion, clean: true })
          .catch(() => null)
        if (attacker === null) continue
        await tryTo(attacker, (c) => c.publishAsync('lm1/bed3b/up/r', FORGED, { qos: 1 }))
        await tryTo(attacker, (c) =>
          c.publishAsync('lm1/hub/state', '{"s":"off"}', { qos: 1, retain: true }),
        )
        await attacker.endAsync(true)
      }
    }
    await victim.publishAsync('lm1/bed3b/up/r', READING(91), { qos: 1 })
    await until('its reading', () => stage.store.readings.has('bed3b/9/91'))
    expect(gone).toEqual([])
    expect(stage.front.state()).toEqual(since)
    expect(foreignSeen()).toEqual([])
    expect(stage.store.readings.has('bed3b/9/666')).toBe(false)
    await victim.endAsync()
  })

  test('without the right password nobody is let in', async () => {
    const { bed3a, bed3b, bed3c } = stage.passwordOf
    const tries: IClientOptions[] = [
      { username: 'bed3b', password: bed3a },
      { username: 'bed3b', password: '' },
      { username: 'bed3b' },
      { username: 'bed3b', password: bed3b.toLowerCase() },
      { username: 'bed3b', password: ` ${bed3b}` },
      { username: 'bed3b\0', password: bed3b },
      { username: 'BED3B', password: bed3b },
      { username: 'bed3c', password: bed3c },
      { username: 'hub', password: bed3a },
      { username: 'hub', password: '' },
      { username: 'Observer1', password: bed3a },
      { username: '#', password: bed3a },
      { username: '+', password: '' },
      { username: '$SYS', password: '' },
      { username: 'bed3a:x', password: bed3a },
      { username: 'bed3a\nhub', password: bed3a },
      { username: '', password: bed3b, clientId: 'bed3b' },
      { clientId: 'bed3b' },
      { clientId: 'bed3c' },
    ]
    for (const protocolVersion of stage.versions) {
      for (const options of tries) {
        const clientId = options.clientId ?? options.username ?? 'x'
        const outcome = await stage
          .enter({ ...options, clientId, protocolVersion, connectTimeout: 2000 })
          .then(() => 'let in')
          .catch(() => 'refused')
        expect(outcome, JSON.stringify(options)).toBe('refused')
      }
    }
  })

  test('somebody who gives no name writes nothing for those who have one', async () => {
    const stranger = await stage.enter({ clientId: 'passerby' }).catch(() => null)
    if (stage.hub !== null) {
      expect(stranger).toBeNull()
      return
    }
    // The built-in broker lets in who comes from this machine; see LOAMLINE_STRANGERS.
    for (const topic of ['lm1/bed3b/up/r', 'lm1/bed3b/dn/cmd', 'lm1/bed3c/up/r', 'lm1/hub/state'])
      await tryTo(stranger!, (c) => c.publishAsync(topic, FORGED, { qos: 1, retain: true }))
    const after = await stage.as('bed3a')
    await settled(after)
    await after.endAsync()
    expect(foreignSeen()).toEqual([])
    expect(notOfA().filter((key) => key.endsWith('/666'))).toEqual([])
  })

  test('a password that is taken away ends what it opened, and opens nothing more', async () => {
    const password = await stage.passwords.make('bed3d')
    await stage.handOver()
    const enter = (): Promise<MqttClient> =>
      stage.enter({ clientId: 'bed3d', username: 'bed3d', password })
    const inside = await enter()
    const gone = new Promise<void>((resolve) => inside.once('close', () => resolve()))
    await stage.passwords.revoke('bed3d')
    await stage.handOver()
    await gone
    await expect(enter()).rejects.toThrow()
    const next = await stage.passwords.make('bed3d')
    await stage.handOver()
    await expect(enter()).rejects.toThrow()
    await stage.enter({ clientId: 'bed3d', username: 'bed3d', password: next })
  })
})

test('with nobody listening, when readings take the short way, the built-in broker holds probes apart as well', async () => {
  await using stage = await openStage('the built-in broker')
  const { store } = stage
  const attacker = await stage.as('bed3a')
  const victim = await stage.as('bed3b')
  for (let round = 0; round < 3; round++) {
    // Its own, and mixed into them what is not its own: as one stretch of bytes.
    const sent = [
      attacker.publishAsync('lm1/bed3a/up/r', READING(3 * round), { qos: 1 }),
      ...FOREIGN.map((topic) => attacker.publishAsync(topic, FORGED, { qos: 1 })),
      attacker.publishAsync('lm1/bed3a/up/r', READING(3 * round + 1), { qos: 1 }),
      victim.publishAsync('lm1/bed3b/up/r', READING(3 * round), { qos: 1 }),
    ]
    await Promise.all(sent)
  }
  await until('all own readings', () => store.readings.size === 9)
  expect([...store.readings.keys()].filter((key) => key.endsWith('/666'))).toEqual([])
  const refused = store.quarantined.filter(({ payload }) =>
    Buffer.from(payload).equals(Buffer.from(FORGED)),
  )
  expect(new Set(refused.map(({ topic }) => topic))).toEqual(new Set(FOREIGN))
  // Once its password is taken away, what it still sends is nobody's.
  const gone = new Promise<void>((resolve) => attacker.once('close', () => resolve()))
  await stage.passwords.revoke('bed3a')
  for (let n = 100; n < 200; n++) attacker.publish('lm1/bed3a/up/r', READING(n), { qos: 1 })
  await gone
  await victim.publishAsync('lm1/bed3b/up/r', READING(50), { qos: 1 })
  expect([...store.readings.keys()].filter((key) => /^bed3a\/9\/1\d\d$/.test(key))).toEqual([])
})

describe('readings that several processes share', () => {
  const GROUP = 'loamline'
  let stage: Stage
  let hub: { readonly user: string; readonly password: string }
  beforeAll(async () => {
    stage = await openStage('a mosquitto with the files of the hub')
    hub = stage.hub!
  })
  afterAll(async () => {
    await stage[Symbol.asyncDispose]()
  })

  /** Of ten readings of `bed3b`, how many a member of the group gets while `bed3a` sits at `filters`. */
  async function got(mine: readonly string[], filters: readonly string[]): Promise<number> {
    // The hub's account under its own client id; the front of the stage has to make room for it.
    await stage.front.stop()
    const taker = await stage.enter({
      clientId: 'hub',
      username: hub.user,
      password: hub.password,
      protocolVersion: 5,
    })
    const heard = ears(taker)
    await taker.subscribeAsync([...mine, 'lm1/bed3b/up/state'], { qos: 1 })
    const thief = await stage.as('bed3a', { protocolVersion: 5 })
    const stolen = ears(thief)
    for (const filter of filters) await tryTo(thief, (c) => c.subscribeAsync(filter, { qos: 1 }))
    const victim = await stage.as('bed3b')
    for (let n = 0; n < 10; n++) await victim.publishAsync('lm1/bed3b/up/r', READING(n), { qos: 1 })
    await victim.publishAsync('lm1/bed3b/up/state', '{"s":"on"}', { qos: 1 })
    await until('all is dealt out', () => heard.some(({ topic }) => topic.endsWith('/state')))
    expect(stolen.filter(({ topic }) => topic !== 'lm1/hub/state')).toEqual([])
    await Promise.all([taker, thief, victim].map((client) => client.endAsync()))
    return heard.filter(({ topic }) => topic === 'lm1/bed3b/up/r').length
  }

  test('a group with a name one can guess is robbed: this is why the name is sealed', async () => {
    const known = [`$share/${GROUP}/lm1/+/up/r`]
    expect(await got(known, [])).toBe(10)
    expect(await got(known, known)).toBeLessThan(10)
  })

  test('the sealed group is not: nobody can join what nobody can name', async () => {
    const sealed = sharedTopics(GROUP, hub.password)
    const guesses = [GROUP, `${GROUP}-`, '+', '#', 'bed3a'].flatMap((group) => [
      `$share/${group}/lm1/+/up/r`,
      `$share/${group}/lm1/+/up/#`,
      `$share/${group}/#`,
    ])
    expect(await got(sealed, [...guesses, ...sharedTopics(GROUP, stage.passwordOf.bed3a)])).toBe(10)
    expect(sharedTopics(GROUP, hub.password)).toEqual(sealed)
    expect(sealed.join()).not.toContain(hub.password)
  })
})
