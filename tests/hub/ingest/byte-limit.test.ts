import fc from 'fast-check'
import { expect, test } from 'vitest'
import { createByteLimit } from '#hub/ingest/byte-limit.ts'

/** Remaining length as MQTT 3.1.1 writes it (2.2.3). */
function packet(type: number, body: number): number[] {
  const head = [type]
  let length = body
  do {
    const digit = length % 128
    length = Math.floor(length / 128)
    head.push(length > 0 ? digit | 0x80 : digit)
  } while (length > 0)
  return [...head, ...Array.from({ length: body }, () => 0xff)]
}

test('packets up to the limit pass in whatever pieces they come', () => {
  fc.assert(
    fc.property(
      fc.array(fc.nat(97), { maxLength: 20 }),
      fc.array(fc.integer({ min: 1, max: 40 })),
      (sizes, cuts) => {
        const stream = sizes.flatMap((size) => packet(0x32, size))
        const check = createByteLimit(100)
        let at = 0
        for (const cut of [...cuts, stream.length]) {
          expect(check(Uint8Array.from(stream.slice(at, at + cut)))).toBeNull()
          at += cut
        }
      },
    ),
    { numRuns: 500, seed: 5 },
  )
})

test.each([99, 127, 128, 4096, 300_000])(
  'a packet of %i bytes of body is caught by its header',
  (body) => {
    const check = createByteLimit(100)
    const bytes = packet(0x30, body)
    let found: number | null = null
    for (const byte of bytes.slice(0, 5)) found ??= check(Uint8Array.of(byte))
    expect(found).toBeGreaterThan(100)
  },
)

test('a length that never ends is caught', () => {
  expect(createByteLimit(100)(Uint8Array.of(0x30, 0x80, 0x80, 0x80, 0x80, 0x01))).not.toBeNull()
})
