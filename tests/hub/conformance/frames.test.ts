import fc from 'fast-check'
import { generate, type Packet } from 'mqtt-packet'
import { expect, test } from 'vitest'
import { covers } from '#hub/conformance/filter.ts'
import { frames } from '#hub/conformance/frames.ts'

test('packets come out whole however the bytes were cut', () => {
  fc.assert(
    fc.property(
      fc.array(fc.nat(40_000), { minLength: 1, maxLength: 4 }),
      fc.array(fc.integer({ min: 1, max: 5000 }), { minLength: 1, maxLength: 20 }),
      (sizes, cuts) => {
        const packets = sizes.map((size) => {
          const payload = Buffer.alloc(size, 7)
          const packet: Packet = {
            cmd: 'publish',
            topic: 'lm1/bed3a/up/r',
            payload,
            qos: 0,
            dup: false,
            retain: false,
          }
          return generate(packet)
        })
        const stream = Buffer.concat(packets)
        const split = frames()
        const out: Uint8Array[] = []
        for (let at = 0, i = 0; at < stream.length; i++) {
          const length = cuts[i % cuts.length]!
          out.push(...split.push(stream.subarray(at, at + length)))
          at += length
        }
        expect(out.map((frame) => Buffer.from(frame).equals(packets[out.indexOf(frame)]!))).toEqual(
          packets.map(() => true),
        )
      },
    ),
    { numRuns: 60, seed: 5 },
  )
})

test('a length of more than four bytes is no MQTT', () => {
  expect(() => frames().push(Uint8Array.of(0x30, 0xff, 0xff, 0xff, 0xff, 1))).toThrow(RangeError)
})

// MQTT 3.1.1 (OASIS, 2014), 4.7.1, with its own examples.
test.each([
  ['sport/tennis/player1/#', 'sport/tennis/player1', true],
  ['sport/tennis/player1/#', 'sport/tennis/player1/score/wimbledon', true],
  ['sport/tennis/+', 'sport/tennis/player1', true],
  ['sport/tennis/+', 'sport/tennis/player1/ranking', false],
  ['sport/+', 'sport', false],
  ['sport/+', 'sport/', true],
  ['+/+', '/finance', true],
  ['+', '/finance', false],
])('%s covers %s: %s', (filter, topic, expected) => {
  expect(covers(filter, topic)).toBe(expected)
})
