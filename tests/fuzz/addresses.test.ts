import { createServer } from 'node:net'
import type { AddressInfo } from 'node:net'
import fc from 'fast-check'
import { expect, test } from 'vitest'
import {
  isPublicAddress,
  PrivateTarget,
  refusePrivateLiteral,
} from '#hub/delivery/senders/public-address.ts'
import { routeInput } from '#hub/api/schemas/message.ts'
import { GOOD_BODIES } from './good-bodies.ts'
import { longest, runs } from './size.ts'

/*
 * Addresses of this machine and of private networks, in every spelling that an address can have: a webhook or a push
 * must not reach them unless its route says so.
 */

const octet = fc.nat(255)
/** Networks that are no part of the public Internet (RFC 6890 and its registries, from memory). */
const privateV4 = fc.oneof(
  fc.tuple(fc.constant(127), octet, octet, octet),
  fc.tuple(fc.constant(10), octet, octet, octet),
  fc.tuple(fc.constant(192), fc.constant(168), octet, octet),
  fc.tuple(fc.constant(169), fc.constant(254), octet, octet),
  fc.tuple(fc.constant(172), fc.integer({ min: 16, max: 31 }), octet, octet),
  fc.tuple(fc.constant(100), fc.integer({ min: 64, max: 127 }), octet, octet),
  fc.tuple(fc.constant(0), octet, octet, octet),
  fc.tuple(fc.integer({ min: 224, max: 255 }), octet, octet, octet),
)
type V4 = readonly [number, number, number, number]

const hex = (n: number): string => n.toString(16)
const whole = ([a, b, c, d]: V4): number => ((a * 256 + b) * 256 + c) * 256 + d
const pair = (high: number, low: number): string => hex(high * 256 + low)
const wide = (text: string): string =>
  text.replaceAll(/[0-9.]/g, (c) => String.fromCharCode(c.charCodeAt(0) + 0xfee0))

/** Spellings of an IPv4 address in an address of the web (WHATWG URL), and dresses of IPv6 that carry it. */
const SPELLINGS: readonly ((v4: V4) => string)[] = [
  (v4) => v4.join('.'),
  (v4) => `${v4.join('.')}.`,
  (v4) => String(whole(v4)),
  (v4) => `0x${hex(whole(v4))}`,
  (v4) => `0${whole(v4).toString(8)}`,
  (v4) => v4.map((n) => `0x${hex(n)}`).join('.'),
  (v4) => v4.map((n) => `0${n.toString(8)}`).join('.'),
  ([a, b, c, d]) => `${a}.${(b * 256 + c) * 256 + d}`,
  ([a, b, c, d]) => `${a}.${b}.${c * 256 + d}`,
  (v4) => wide(v4.join('.')),
  (v4) => v4.join('%2e'),
  (v4) => v4.join('\u3002'),
  ([a, b, c, d]) => `[::ffff:${pair(a, b)}:${pair(c, d)}]`,
  (v4) => `[::ffff:${v4.join('.')}]`,
  (v4) => `[0:0:0:0:0:FFFF:${v4.join('.')}]`,
  (v4) => `[::${v4.join('.')}]`,
  (v4) => `[::ffff:0:${v4.join('.')}]`,
  (v4) => `[64:ff9b::${v4.join('.')}]`,
  (v4) => `[64:ff9b:1::${v4.join('.')}]`,
  ([a, b, c, d]) => `[2002:${pair(a, b)}:${pair(c, d)}::1]`,
  ([a, b, c, d]) => `[2001:0:${pair(a, b)}:${pair(c, d)}::]`,
  ([a, b, c, d]) => `[fe80::5efe:${pair(a, b)}:${pair(c, d)}]`,
]
const spelling = fc.tuple(privateV4, fc.constantFrom(...SPELLINGS)).map(([v4, way]) => way(v4))

test(
  'an address that is not public is refused in every spelling',
  () => {
    let refused = 0
    fc.assert(
      fc.property(spelling, (host) => {
        const address = `http://${host}/x`
        // What is no address of the web never gets as far as that.
        if (!URL.canParse(address)) return
        expect(() => refusePrivateLiteral(new URL(address).hostname)).toThrow(PrivateTarget)
        refused++
      }),
      runs(3000),
    )
    expect(refused).toBeGreaterThan(2000)
  },
  longest(20_000),
)

test(
  'of IPv6 nothing is public but global unicast addresses',
  () => {
    const group = fc.integer({ min: 0, max: 0xffff })
    const rest = fc.array(group, { minLength: 7, maxLength: 7 })
    fc.assert(
      fc.property(group, rest, (first, others) => {
        const address = [first, ...others].map(hex).join(':')
        const inside = first >= 0x2000 && first <= 0x3fff
        if (!inside) expect(isPublicAddress(address)).toBe(false)
        expect(isPublicAddress(`${address}%eth0`)).toBe(false)
      }),
      runs(2000),
    )
    for (const address of ['2002:808:808::1', '3fff::1', '2001:db8:ffff::', '2001:10::1']) {
      expect(isPublicAddress(address)).toBe(false)
    }
  },
  longest(20_000),
)

test('no webhook of these spellings reaches a door of this machine', async () => {
  const { createWebhookSender } = await import('#hub/delivery/senders/webhook.ts')
  let reached = 0
  const door = createServer((socket) => {
    reached++
    socket.destroy()
  })
  await new Promise<void>((resolve) => door.listen(0, resolve))
  const { port } = door.address() as AddressInfo
  const send = createWebhookSender({ clock: () => 0, hubId: 'x' })
  const [good] = GOOD_BODIES['POST /api/message-routes'] as [Record<string, unknown>]
  const letter = { subject: 's', lead: '', places: [], link: null, foot: [] }
  const message = {
    uid: 'u',
    madeAt: 0,
    held: null,
    items: [],
    test: true,
    maybeSent: false,
    note: null,
    letter,
  }
  const outcomes: string[] = []
  try {
    for (const way of SPELLINGS) {
      const url = `http://${way([127, 0, 0, 1]).replace(/\]?$/, (end) => `${end}:${port}`)}/x`
      const target = { way: 'webhook', url, privateAllowed: false, key: null }
      if (!routeInput.safeParse({ ...good, target }).success) continue
      const route = { id: 1, target } as unknown as Parameters<typeof send>[0]
      const { what, answer } = await send(
        route,
        null,
        message as unknown as Parameters<typeof send>[2],
      )
      outcomes.push(`${what}: ${answer}`)
    }
    const named = {
      id: 1,
      target: { way: 'webhook', url: `http://localhost:${port}/`, privateAllowed: false },
    }
    const { answer } = await send(named as never, null, message as never)
    outcomes.push(`refused: ${answer}`)
  } finally {
    door.close()
  }
  expect(reached).toBe(0)
  expect(outcomes.length).toBeGreaterThan(12)
  for (const one of outcomes) expect(one).toMatch(/^refused: .*private network or of this machine/)
})
