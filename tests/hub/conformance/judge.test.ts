import { expect, test } from 'vitest'
import { judge } from '#hub/conformance/judge/judge.ts'
import type { Happening, SeenPacket } from '#hub/conformance/record.ts'
import { linesOf, reportOf } from '#hub/conformance/report.ts'
import { REQUIREMENTS } from '#hub/conformance/requirements.ts'
import { SPECIFIED } from '#hub/conformance/terms.ts'
import { readFileSync } from 'node:fs'

const START = Date.UTC(2026, 5, 1)
const bytes = (text: string): Uint8Array => new TextEncoder().encode(text)

/** A recording made by hand; times in s from its beginning. */
function recording() {
  const happenings: Happening[] = []
  let link = -1
  const at = (s: number): number => START + 1000 * s
  const up = (s: number, packet: SeenPacket): void =>
    void happenings.push({ kind: 'up', at: at(s), link, packet })
  const down = (s: number, packet: SeenPacket): void =>
    void happenings.push({ kind: 'down', at: at(s), link, packet, purpose: null })
  return {
    happenings,
    up,
    connect(s: number, more: Partial<Extract<SeenPacket, { cmd: 'connect' }>> = {}) {
      link++
      happenings.push({ kind: 'opened', at: at(s), link })
      const will = {
        topic: 'lm1/bed3a/up/state',
        payload: bytes('{"s":"off","b":2}'),
        retain: true,
      }
      up(s, {
        cmd: 'connect',
        version: 4,
        clientId: 'bed3a',
        username: 'bed3a',
        password: null,
        keepAliveS: 60,
        will,
        ...more,
      })
      down(s, { cmd: 'connack', code: 0 })
      up(s, { cmd: 'subscribe', filters: ['lm1/bed3a/dn/#'] })
      down(s, { cmd: 'suback' })
    },
    says(s: number, leaf: string, payload: string) {
      const retain = /^(state|birth|ch)/.test(leaf)
      const topic = `lm1/bed3a/up/${leaf}`
      up(s, { cmd: 'publish', topic, payload: bytes(payload), qos: 1, retain })
    },
    closes(s: number, by: 'probe' | 'check' = 'probe') {
      happenings.push({ kind: 'closed', at: at(s), link, by })
    },
  }
}

const verdictOf = (happenings: readonly Happening[], id: string) =>
  judge('bed3a', happenings, SPECIFIED).find(({ requirement }) => requirement.id === id)!

/** Two wakes of a sleeping probe. */
function sleeper(sleptS: number, options: { orderly?: boolean; waitS?: number } = {}) {
  const { orderly = true, waitS = 1 } = options
  const tape = recording()
  for (const [i, from] of [0, sleptS].entries()) {
    tape.connect(from)
    tape.says(from, 'state', `{"s":"on","b":2,"u":${from + 90}}`)
    tape.says(from, 'r', `{"b":2,"n":${i},"u":${from + 90},"v":{"m1":1800}}`)
    tape.says(from + waitS, 'state', `{"s":"sleep","b":2,"u":${from + 91},"nx":600}`)
    if (orderly) tape.up(from + waitS, { cmd: 'disconnect' })
    tape.closes(from + waitS)
  }
  return tape.happenings
}

test('a sleeper that goes in order and wakes in time', () => {
  expect(verdictOf(sleeper(630), 'LM-31').verdict).toBe('met')
  expect(verdictOf(sleeper(630), 'LM-32').verdict).toBe('met')
})

test.each([
  ['wakes late', sleeper(900), 'LM-31'],
  ['wakes early', sleeper(300), 'LM-31'],
  ['goes without DISCONNECT', sleeper(630, { orderly: false }), 'LM-31'],
  ['does not wait for retained messages', sleeper(630, { waitS: 0.1 }), 'LM-32'],
  ['stays awake for nothing', sleeper(630, { waitS: 9 }), 'LM-32'],
])('a sleeper that %s', (_what, happenings, id) => {
  const { verdict, packet } = verdictOf(happenings, id)
  expect(verdict).toBe('not met')
  expect(packet?.text).toContain('"sleep"')
})

test('flag 1, seconds that stand still in sleep, and a clock that is off', () => {
  const tape = recording()
  tape.connect(0)
  tape.says(0, 'state', '{"s":"on","b":2,"u":0}')
  tape.says(1, 'r', '{"b":2,"n":0,"u":1,"f":1,"v":{"phmv":10.6}}')
  const t = START / 1000 + 500
  tape.says(301, 'r', `{"b":2,"n":1,"u":301,"t":${t},"v":{"phmv":10.7}}`)
  expect(verdictOf(tape.happenings, 'LM-19').verdict).toBe('met')
  expect(verdictOf(tape.happenings, 'LM-14').told).toContain('199 s off')
  tape.says(600, 'state', '{"s":"on","b":2,"u":310}')
  expect(verdictOf(tape.happenings, 'LM-13').told).toBe('u rose by 310 in 600 s')
})

test('MQTT 5 alone, a password that is too short, a will at another topic', () => {
  const tape = recording()
  tape.connect(0, {
    version: 5,
    password: bytes('secret99'),
    will: { topic: 'lm1/bed3a/state', payload: bytes('off'), retain: true },
  })
  for (const id of ['LM-01', 'LM-05', 'LM-33']) {
    expect(verdictOf(tape.happenings, id).verdict, id).toBe('not met')
  }
})

test('a plain probe is asked for less', () => {
  const tape = recording()
  tape.connect(0, { will: null })
  tape.says(1, 'v/ph', '6.82')
  const findings = judge('bed3a', tape.happenings, SPECIFIED)
  expect(findings.filter(({ verdict }) => verdict === 'not met')).toEqual([])
  const met = findings.filter(({ verdict }) => verdict === 'met').map(({ requirement: r }) => r.id)
  expect(met).toEqual(expect.arrayContaining(['LM-02', 'LM-03', 'LM-09', 'LM-10', 'LM-30']))
  tape.says(2, 'v/ph', '6,82')
  expect(verdictOf(tape.happenings, 'LM-10').verdict).toBe('not met')
})

test('nothing came: nothing is tested, and that is no pass', () => {
  const findings = judge('bed3a', [], SPECIFIED)
  expect(new Set(findings.map(({ verdict }) => verdict))).toEqual(new Set(['not tested']))
  const report = reportOf({
    probe: 'bed3a',
    startedAt: START,
    endedAt: START,
    findings,
    happenings: [],
  })
  expect(report.passed).toBe(false)
})

test('the report shows bytes that are no text as such, and never a password', () => {
  const tape = recording()
  const password = 'vk3mn8rt2qpz'
  tape.connect(0, { password: bytes(password) })
  tape.says(0, 'state', '{"s":"on","b":2,"u":0}')
  tape.says(1, 'r', `{"b":2,"n":0,"u":1,"v":{"${password}":1}}`)
  tape.says(2, 'r', '{"b":2,"n":1,"u":2,"v":{"m1":\u001b[2J')
  const report = reportOf({
    probe: 'bed3a',
    startedAt: START,
    endedAt: START + 1,
    findings: judge('bed3a', tape.happenings, SPECIFIED),
    happenings: tape.happenings,
  })
  const lines = linesOf(report).join('\n')
  expect(report.counts['not met']).toBeGreaterThan(0)
  expect(JSON.stringify(report) + lines).not.toContain(password)
  expect(JSON.stringify(report) + lines).not.toContain(Buffer.from(password).toString('hex'))
  expect(lines).not.toContain('\u001b')
  expect(lines).toMatch(/LM-10 {2}not met .*lm1\/bed3a\/up\/r hex 7b22/)
  expect(lines.split('\n').filter((line) => line.startsWith('LM-'))).toHaveLength(35)
})

test('the requirements are those of the specification, with its words', () => {
  const text = readFileSync('firmware-spec/README.md', 'utf8')
  const rows = Array.from(
    text.matchAll(/^\| (LM-\d\d) \| (MUST NOT|MUST|SHOULD) \| ([^|]*) \|/gm),
    ([, id, word, profile]) => ({ id, word, core: !profile?.includes('P') }),
  )
  expect(rows).toHaveLength(35)
  expect(REQUIREMENTS.map(({ id, word, core }) => ({ id, word, core }))).toEqual(rows)
})
