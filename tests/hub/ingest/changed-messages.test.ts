import { globSync, readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { createIngest } from '#hub/ingest/ingest.ts'
import { decode } from '#hub/wire/payload.ts'
import { memoryGarden, memoryReadings } from '../../support/memory-stores.ts'
import { seededRandom } from '../../support/random.ts'

const MESSAGES = 200_000
const BATCH = 2000
const T0 = 1_780_000_000_000

/** Whole messages of the specification, right ones and wrong ones, that go to the hub. */
const vectors = globSync('firmware-spec/vectors/*/*.json')
  .toSorted()
  .map((file) => JSON.parse(readFileSync(file, 'utf8')) as Record<string, string>)
  .filter(({ topic }) => topic!.startsWith('lm1/bed3a/up/'))
  .map(({ topic, payload, hex }) => ({
    topic: topic!,
    bytes: hex === undefined ? Buffer.from(payload!) : Buffer.from(hex, 'hex'),
  }))
const SCRAPS = ['0', '-', '.', ',', '"', '{', '}', '[', ']', 'e9', 'null', 'nan', '\0', '?', '1e10']

test(`${MESSAGES} changed messages through the whole intake: none crashes it, each one refused is kept with a reason`, async () => {
  const random = seededRandom(31)
  const below = (n: number): number => Math.floor(random() * n)
  const change = (bytes: Buffer): Buffer => {
    const at = below(bytes.length + 1)
    const scrap = Buffer.from(SCRAPS[below(SCRAPS.length)]!)
    switch (below(5)) {
      case 0:
        return bytes.subarray(0, at)
      case 1:
        return Buffer.concat([bytes.subarray(0, at), scrap, bytes.subarray(at)])
      case 2:
        return Buffer.concat([bytes.subarray(0, at), scrap, bytes.subarray(at + scrap.length)])
      case 3: {
        const flipped = Buffer.from(bytes)
        if (at < flipped.length) flipped[at] = flipped[at]! ^ (1 << below(8))
        return flipped
      }
      default: {
        // A digit for a digit: still JSON, and often still right.
        const text = bytes.toString('latin1')
        const digits = Array.from(text.matchAll(/\d/g))
        const hit = digits[below(Math.max(1, digits.length))]
        if (hit === undefined) return bytes
        return Buffer.from(
          text.slice(0, hit.index) + String(below(10)) + text.slice(hit.index + 1),
          'latin1',
        )
      }
    }
  }
  const readings = memoryReadings()
  const ingest = createIngest({
    readings: readings.port,
    garden: memoryGarden().port,
    clock: () => T0,
    maxStrangers: 50,
    log: { warn: () => undefined, info: () => undefined },
  })
  let refused = 0
  let taken = 0
  for (let sent = 0; sent < MESSAGES; sent += BATCH) {
    const batch = Array.from({ length: BATCH }, () => {
      const { topic, bytes } = vectors[below(vectors.length)]!
      let payload = change(bytes)
      if (random() < 0.3) payload = change(payload)
      if ('problems' in decode(topic, payload)) refused++
      else taken++
      return { topic, payload, retain: false, arrivedAt: T0, mayBeDelayed: false }
    })
    await ingest.ingest(batch)
  }
  ingest.stop()
  expect(refused + taken).toBe(MESSAGES)
  expect(taken).toBeGreaterThan(MESSAGES / 20)
  expect(refused).toBeGreaterThan(MESSAGES / 4)
  // What decodes may still be kept aside: the same number with other content.
  expect(readings.quarantined.length).toBeGreaterThanOrEqual(refused)
  for (const { reason, payload } of readings.quarantined) {
    if (reason.length > 15 && payload !== undefined) continue
    throw new Error(`kept aside without a reason an author understands: '${reason}'`)
  }
  for (const { values } of readings.readings.values()) {
    for (const { value } of values) {
      if (value !== null && !Number.isNaN(value) && !(Math.abs(value) <= 1e9)) {
        throw new Error(`stored a value no probe may send: ${value}`)
      }
    }
  }
}, 180_000)
