import { once } from 'node:events'
import { connect, createServer } from 'node:net'
import type { AddressInfo, Socket } from 'node:net'
import { Duplex } from 'node:stream'
import fc from 'fast-check'
import { generate } from 'mqtt-packet'
import type { Packet } from 'mqtt-packet'
import { expect, test } from 'vitest'
import { layPublishLane } from '#hub/ingest/publish-lane.ts'
import { until } from '#tests/support/until.ts'

const LONGEST = 300

const publish = fc
  .record({
    topic: fc.constantFrom('lm1/row1/up/r', 'lm1/row1/up/state', 'lm1/grün/up/r', 'x'),
    payload: fc.string({ maxLength: 400 }),
    qos: fc.constantFrom(0 as const, 1 as const, 1 as const, 1 as const, 2 as const),
    retain: fc.boolean(),
    messageId: fc.integer({ min: 1, max: 65_535 }),
  })
  .map((some): Packet => ({ cmd: 'publish', dup: false, ...some }))
const other = fc.constantFrom<Packet>(
  { cmd: 'pingreq' },
  { cmd: 'puback', messageId: 7 },
  { cmd: 'subscribe', messageId: 9, subscriptions: [{ topic: 'a/b', qos: 1 }] },
)
const packets = fc.array(fc.oneof({ weight: 4, arbitrary: publish }, other), { maxLength: 20 })

/** Something that is read as a socket is, and the bytes that reach who reads it. */
function pretendSocket(): { socket: Socket; read: () => Buffer } {
  const socket = new Duplex({ read() {}, write() {} }) as unknown as Socket
  const seen: Buffer[] = []
  return {
    socket,
    read() {
      for (let chunk = socket.read() as Buffer | null; chunk !== null; chunk = socket.read())
        seen.push(chunk)
      return Buffer.concat(seen)
    },
  }
}

/** Cuts bytes at the given places. */
function pieces(bytes: Buffer, cuts: readonly number[]): Buffer[] {
  const at = [...new Set(cuts.map((cut) => cut % (bytes.length + 1)))].sort((a, b) => a - b)
  return [0, ...at].map((from, i) => bytes.subarray(from, at[i] ?? bytes.length))
}

test.each([4, 5] as const)(
  'however the bytes of MQTT %i are cut, a message goes one way, whole, and the rest stays in order',
  (version) => {
    fc.assert(
      fc.property(packets, fc.array(fc.nat(9999), { maxLength: 8 }), (sent, cuts) => {
        const { socket, read } = pretendSocket()
        const quick: string[] = []
        layPublishLane(socket, {
          version,
          longest: LONGEST,
          isOpen: () => true,
          take(topic, payload, messageId, retain) {
            if (topic === 'x') return false
            quick.push(`${topic} ${payload.toString()} ${messageId} ${retain}`)
            return true
          },
          isFull: () => false,
          whenRoom: () => undefined,
        })
        const encode = (packet: Packet): Buffer =>
          generate(packet, { protocolVersion: version }) as Buffer
        for (const piece of pieces(Buffer.concat(sent.map(encode)), cuts)) socket.push(piece)
        const slow = read()
        // Every packet is found again, once: among what was taken or in the bytes that are left.
        const left: Buffer[] = []
        for (const packet of sent) {
          const name =
            packet.cmd === 'publish'
              ? `${packet.topic} ${packet.payload.toString()} ${packet.messageId} ${packet.retain}`
              : ''
          if (packet.cmd === 'publish' && packet.qos === 1 && quick[0] === name) quick.shift()
          else left.push(encode(packet))
        }
        expect(quick).toEqual([])
        expect(slow.toString('hex')).toBe(Buffer.concat(left).toString('hex'))
      }),
    )
  },
)

test('bytes that are no packets are left as they are', () => {
  fc.assert(
    fc.property(fc.uint8Array({ maxLength: 200 }), fc.array(fc.nat(9999)), (bytes, cuts) => {
      const { socket, read } = pretendSocket()
      layPublishLane(socket, {
        version: 4,
        longest: LONGEST,
        isOpen: () => true,
        take: () => false,
        isFull: () => false,
        whenRoom: () => undefined,
      })
      for (const piece of pieces(Buffer.from(bytes), cuts)) socket.push(piece)
      socket.push(null)
      expect(read()).toEqual(Buffer.from(bytes))
    }),
  )
})

test('while too much waits nothing more is taken from a real socket; then it goes on where it was', async () => {
  const total = 30_000
  const taken: number[] = []
  const resumes: (() => void)[] = []
  let room = 100
  const server = createServer((socket) => {
    layPublishLane(socket, {
      version: 4,
      longest: LONGEST,
      isOpen: () => true,
      take(_topic, payload) {
        taken.push(Number(payload.toString()))
        return true
      },
      isFull: () => taken.length >= room,
      whenRoom: (resume) => resumes.push(resume),
    })
    // Who reads it waits for bytes all the time.
    socket.on('data', () => undefined)
  }).listen(0, '127.0.0.1')
  await once(server, 'listening')
  const client = connect((server.address() as AddressInfo).port, '127.0.0.1')
  for (let n = 0; n < total; n++) {
    const payload = String(n)
    client.write(
      generate({
        cmd: 'publish',
        topic: 'a',
        payload,
        qos: 1,
        messageId: (n % 65_535) + 1,
        dup: false,
        retain: false,
      }),
    )
  }
  while (taken.length < total) {
    await until(
      'as many as may',
      () => taken.length === Math.min(room, total) && resumes.length > 0,
    )
    expect(taken.length).toBe(room)
    room = room < 2000 ? room + 100 : total + 1
    for (const resume of resumes.splice(0)) resume()
    if (room > total) await until('the rest', () => taken.length === total)
  }
  expect(taken).toEqual(Array.from({ length: total }, (_, n) => n))
  client.destroy()
  server.close()
})
