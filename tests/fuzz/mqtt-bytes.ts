import { generate, type Packet } from 'mqtt-packet'
import fc from 'fast-check'
import { HOSTILE_TEXTS } from './hostile.ts'

/*
 * What may come down a line at the broker: streams of packets as a probe sends them, the same with bytes changed, cut
 * out, doubled or put in, packets of MQTT 5, and bytes of no sense at all.
 */

const ids = fc.constantFrom(
  'fuzz1',
  'fuzz2',
  'kestrel',
  '',
  '__proto__',
  'constructor',
  'x'.repeat(3000),
)
const topics = fc.oneof(
  fc.constantFrom('lm1/fuzz1/up/r', 'lm1/fuzz2/up/state', 'lm1/fuzz3/up/birth', 'lm1/fuzz4/up/b'),
  fc.constantFrom(
    'lm1/fuzz1/up/r',
    'lm1/fuzz1/up/b',
    'lm1/fuzz1/up/state',
    'lm1/fuzz1/up/birth',
    'lm1/fuzz1/up/ch/phmv',
    'lm1/fuzz1/up/v/ph',
    'lm1/fuzz1/dn/cmd',
    'lm1/hub/state',
    'lm1/__proto__/up/r',
    '$SYS/broker',
    '/'.repeat(300),
  ),
  fc.constantFrom(...HOSTILE_TEXTS.filter((text) => text.length < 3000)),
)
const filters = fc.oneof(
  topics,
  fc.constantFrom('#', '+/+/up/#', '+', '$SYS/#', '$share/a/#', 'lm1/#', '+'.repeat(200), 'a/#/b'),
)
const payloads = fc.oneof(
  fc.constantFrom(
    '{"b":1,"n":1,"u":60,"v":{"phmv":12.5}}',
    '{"b":1,"n":2,"u":120,"v":{"__proto__":1}}',
    '{"s":"on","b":1,"u":1}',
    '{"p":1,"fw":"<b>","b":1,"u":1,"iv":60,"ch":"phmv"}',
    '['.repeat(1500),
    '6.5',
  ),
  fc.string({ maxLength: 200, unit: 'binary' }),
)
const qos = fc.constantFrom(0 as const, 1 as const, 2 as const)
const messageId = fc.integer({ min: 1, max: 65_535 })

const will = fc.record({
  topic: topics,
  payload: payloads.map((text) => Buffer.from(text)),
  qos,
  retain: fc.boolean(),
})
const asAnybody = fc
  .record({
    clientId: ids,
    clean: fc.boolean(),
    keepalive: fc.constantFrom(0, 1, 60, 65_535),
    username: fc.option(ids, { nil: undefined }),
    password: fc.option(payloads, { nil: undefined }),
    will: fc.option(will, { nil: undefined }),
    protocolVersion: fc.constantFrom(3 as const, 4 as const, 5 as const),
  })
  .map(({ password, username, will: last, ...rest }) => ({
    cmd: 'connect' as const,
    protocolId: rest.protocolVersion === 3 ? ('MQIsdp' as const) : ('MQTT' as const),
    ...rest,
    ...(username === undefined || username === '' ? {} : { username }),
    // MQTT 3.1.1, 3.1.2.9: no password without a name.
    ...(password === undefined || !username ? {} : { password: Buffer.from(password) }),
    ...(last === undefined || last.topic === '' ? {} : { will: last }),
  }))
/** As a probe does, so that what follows is looked at. */
const asProbe = fc
  .record({
    clientId: fc.constantFrom('fuzz1', 'fuzz2', 'fuzz3', 'fuzz4'),
    clean: fc.boolean(),
    will: fc.option(will, { nil: undefined }),
  })
  .map(({ will: last, ...rest }) => ({
    cmd: 'connect' as const,
    protocolId: 'MQTT' as const,
    protocolVersion: 4 as const,
    keepalive: 60,
    ...rest,
    ...(last === undefined || last.topic === '' ? {} : { will: last }),
  }))
const connect = fc.oneof({ weight: 3, arbitrary: asProbe }, { weight: 1, arbitrary: asAnybody })
const publish = fc.record({
  cmd: fc.constant('publish' as const),
  topic: topics,
  payload: payloads,
  qos,
  retain: fc.boolean(),
  dup: fc.boolean(),
  messageId,
})
const subscribe = fc.record({
  cmd: fc.constant('subscribe' as const),
  messageId,
  subscriptions: fc.array(fc.record({ topic: filters, qos }), { minLength: 1, maxLength: 5 }),
})
const unsubscribe = fc.record({
  cmd: fc.constant('unsubscribe' as const),
  messageId,
  unsubscriptions: fc.array(filters, { minLength: 1, maxLength: 3 }),
})
const small = fc.record({
  cmd: fc.constantFrom(
    'puback',
    'pubrec',
    'pubrel',
    'pubcomp',
    'pingreq',
    'pingresp',
    'disconnect',
    'unsuback',
  ),
  messageId,
})

/** Bytes of a packet; none where the generator refuses to make it. */
function bytesOf(packet: unknown): Buffer {
  try {
    return generate(packet as Packet)
  } catch {
    return Buffer.alloc(0)
  }
}

const stream = fc
  .tuple(
    connect,
    fc.array(
      fc.oneof(
        { weight: 12, arbitrary: publish },
        { weight: 3, arbitrary: subscribe },
        unsubscribe,
        small,
        connect,
      ),
      { maxLength: 6 },
    ),
  )
  .map(([first, rest]) => Buffer.concat([first, ...rest].map(bytesOf)))

const places = fc.double({ min: 0, max: 1, noNaN: true, maxExcluded: true })
const change = fc.record({
  how: fc.constantFrom('flip', 'cut', 'double', 'insert', 'length'),
  at: places,
  many: fc.integer({ min: 1, max: 12 }),
  bytes: fc.uint8Array({ minLength: 1, maxLength: 12 }),
})

function changed(
  bytes: Buffer,
  { how, at, many, bytes: by }: { how: string; at: number; many: number; bytes: Uint8Array },
): Buffer {
  const from = Math.floor(at * bytes.length)
  const [head, tail] = [bytes.subarray(0, from), bytes.subarray(from)]
  switch (how) {
    case 'flip':
      return Buffer.from(
        bytes.map((byte, i) => (i >= from && i < from + by.length ? byte ^ by[i - from]! : byte)),
      )
    case 'cut':
      return Buffer.concat([head, tail.subarray(many)])
    case 'double':
      return Buffer.concat([head, tail.subarray(0, many), tail])
    case 'length':
      // The second byte of a packet says how long it is.
      return Buffer.from(bytes.map((byte, i) => (i === 1 ? by[0]! : byte)))
    default:
      return Buffer.concat([head, by, tail])
  }
}

const mutated = fc
  .tuple(stream, fc.array(change, { minLength: 1, maxLength: 4 }))
  .map(([bytes, changes]) => changes.reduce(changed, bytes))
/** Heads of every kind of packet with bodies that mean nothing. */
const blind = fc
  .array(fc.tuple(fc.integer({ min: 0, max: 255 }), fc.uint8Array({ maxLength: 60 })), {
    minLength: 1,
    maxLength: 6,
  })
  .map((parts) =>
    Buffer.concat(parts.map(([head, body]) => Buffer.from([head, body.length, ...body]))),
  )
const opened = bytesOf({
  cmd: 'connect',
  clientId: 'fuzz3',
  clean: true,
  keepalive: 60,
  protocolId: 'MQTT',
  protocolVersion: 4,
})
const opened5 = bytesOf({
  cmd: 'connect',
  clientId: 'fuzz5',
  clean: true,
  keepalive: 60,
  protocolId: 'MQTT',
  protocolVersion: 5,
})

/** Everything one connection sends. */
export const mqttBytes: fc.Arbitrary<Buffer> = fc.oneof(
  { weight: 2, arbitrary: stream },
  { weight: 6, arbitrary: mutated },
  { weight: 2, arbitrary: blind.map((bytes) => Buffer.concat([opened, bytes])) },
  { weight: 2, arbitrary: blind.map((bytes) => Buffer.concat([opened5, bytes])) },
  { weight: 1, arbitrary: blind },
  { weight: 1, arbitrary: fc.uint8Array({ maxLength: 6000 }).map((bytes) => Buffer.from(bytes)) },
  {
    weight: 1,
    arbitrary: fc
      .tuple(
        fc.constantFrom(0x10, 0x30, 0x82),
        fc.constantFrom(
          [0xff, 0xff, 0xff, 0x7f],
          [0xff, 0xff, 0xff, 0xff],
          [0x80, 0x80, 0x80, 0x00],
        ),
      )
      .map(([head, length]) => Buffer.from([head, ...length, 0, 0, 0])),
  },
)
