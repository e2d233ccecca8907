import { execFile } from 'node:child_process'
import { globSync, readFileSync } from 'node:fs'
import { promisify } from 'node:util'
import { expect, test } from 'vitest'
import { openEmbeddedBroker } from '#hub/ingest/embedded-broker.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { openStores } from '#hub/store/open.ts'
import { decode } from '#hub/wire/payload.ts'
import { RESERVED_IDS } from '#hub/wire/topic.ts'
import { UNITS, UNITS_OF } from '#hub/wire/schemas.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { judge } from './independent-judge.ts'

const README = readFileSync('firmware-spec/README.md', 'utf8')
const bytes = (text: string): Uint8Array => new TextEncoder().encode(text)

const EXAMPLES = Array.from(
  README.matchAll(/^```message\n(\S+)\n([^\n]+)\n```$/gm),
  ([, topic = '', payload = '']) => ({ topic, payload }),
)
/** Words of each shell line of the first chapter. */
const COMMANDS = Array.from(
  README.matchAll(/^(mosquitto_(?:pub|sub)) (.+)$/gm),
  ([, tool, rest]) => ({
    tool: tool ?? '',
    args: Array.from(
      (rest ?? '').matchAll(/'([^']*)'|(\S+)/g),
      ([, quoted, word]) => quoted ?? word ?? '',
    ),
  }),
)

test('its examples cover every message, and firmware may send each of them', () => {
  expect(README.match(/```message/g)).toHaveLength(EXAMPLES.length)
  const kinds = new Set<string>()
  for (const { topic, payload } of EXAMPLES) {
    const result = decode(topic, bytes(payload), { strict: true })
    expect(result, payload).toMatchObject({ notes: [] })
    expect(judge(topic, bytes(payload)), payload).toBeNull()
    if ('kind' in result) kinds.add(result.kind)
  }
  expect([...kinds].toSorted()).toEqual(
    'ack,batch,birth,cfg,channel,cmd,plain,reading,result,state,time'.split(','),
  )
})

test('the requirements are numbered without a gap, and the hub names no other', () => {
  const numbered = Array.from(README.matchAll(/^\| (LM-\d\d) \| (MUST|SHOULD)/gm), ([, id]) => id)
  expect(numbered).toEqual(
    Array.from({ length: 35 }, (_, i) => `LM-${String(i + 1).padStart(2, '0')}`),
  )
  const named = globSync('hub/{wire,ingest}/*.ts').flatMap((file) =>
    Array.from(readFileSync(file, 'utf8').matchAll(/LM-\d+/g), ([id]) => id),
  )
  expect(new Set(named).size).toBeGreaterThan(12)
  expect(named.filter((id) => !numbered.includes(id))).toEqual([])
})

test('what the hub can tell from one message is marked so, and nothing else', () => {
  const marked = Array.from(README.matchAll(/^\| (LM-\d\d) \|.*\| message \|$/gm), ([, id]) => id)
  const named = globSync('hub/wire/*.ts').flatMap((file) =>
    Array.from(readFileSync(file, 'utf8').matchAll(/'(LM-\d\d)'/g), ([, id = '']) => id),
  )
  expect([...new Set(named)].toSorted((a, b) => a.localeCompare(b))).toEqual(marked)
})

test('its units are those of the hub', () => {
  const rows = Array.from(
    README.matchAll(/^\| ((?:`[a-z.]+`(?:, )?)+) \| [^|]+ \| ([^|]+) \|$/gm),
    ([, q = '', u = '']) => ({ q: ticked(q), u: ticked(u) }),
  )
  const known = rows.filter(({ q }) => q[0]! in UNITS_OF && q[0] !== 'other')
  const told = Object.fromEntries(known.flatMap(({ q, u }) => q.map((name) => [name, u])))
  const { other, ...listed } = UNITS_OF
  expect(told).toEqual(listed)
  expect(new Set([...known.flatMap(({ u }) => u), 'Ohm'])).toEqual(new Set(UNITS))
  expect(other).toEqual(UNITS)
  for (const id of RESERVED_IDS) expect(README).toContain(`\`${id}\``)
})

test('the first chapter, word by word, against a hub', async () => {
  using folder = tempDir()
  const stores = await openStores(folder.path)
  const log = { warn: (m: string) => said.push(m), info: () => {} }
  const said: string[] = []
  const clock = Date.now
  const ingest = createIngest({ ...stores, clock, log })
  const front = await openEmbeddedBroker({ host: '127.0.0.1', port: 0, ingest, clock, log })
  try {
    const port = front.address.split(':').at(-1)!
    let printed = ''
    for (const { tool, args } of COMMANDS) {
      expect(args.slice(0, 4)).toEqual(['-h', '127.0.0.1', '-p', '1883'])
      const { stdout } = await promisify(execFile)(tool, args.with(3, port))
      printed += stdout
    }
    expect(COMMANDS).toHaveLength(5)
    expect(printed).toBe('{"b":1,"n":0}\n')
    expect(README).toContain(`It prints \`${printed.trim()}\``)
    expect(said).toEqual([])
    await stores.readings.settle()
    expect(await stores.readings.counts()).toMatchObject({ readings: 1, quarantined: 0 })
    expect(await stores.readings.latest('sill1')).toMatchObject([{ channel: 'm1', value: 1873 }])
    expect(await stores.garden.probe('sill1')).toMatchObject({
      firmware: 'by hand 1',
      adoptedAt: null,
    })
  } finally {
    await front.stop()
    await stores.close()
  }
})

function ticked(cell: string): string[] {
  return Array.from(cell.matchAll(/`([^`]+)`/g), ([, word]) => word ?? '')
}
