import { expect, test } from 'vitest'
import { durationOf, readFault } from '#hub/cli/fleet-faults.ts'

test.each([
  ['90s', 90_000],
  ['5m', 300_000],
  ['1.5h', 5_400_000],
  ['1d', 86_400_000],
  ['90', null],
  ['-5m', null],
  ['5 m', null],
  ['', null],
])('a time of %j is %j ms', (text, ms) => expect(durationOf(text)).toBe(ms))

test.each([
  ['outage:2@1m+90s', 2, { kind: 'outage', from: 60_000, to: 150_000, hubAway: false }],
  ['outage', null, { kind: 'outage', from: 60_000, to: Infinity, hubAway: false }],
  ['no-power@10s+5s', null, { kind: 'no power', from: 10_000, to: 15_000 }],
  ['flat-line:1', 1, { kind: 'flat line', from: 60_000, to: Infinity }],
  ['step@30s=-0.8', null, { kind: 'step', from: 30_000, to: Infinity, changePh: -0.8 }],
  ['step', null, { kind: 'step', from: 60_000, to: Infinity, changePh: 0.8 }],
  ['drift:3@1h+2d=0.5', 3, { kind: 'drift', from: 3_600_000, to: 176_400_000, phPer30d: 0.5 }],
])('%s', (text, probe, fault) => expect(readFault(text, 3)).toEqual({ probe, fault }))

test.each([
  ['outage:4', 'there are probes 1 to 3'],
  ['outage:0', 'there are probes 1 to 3'],
  ['fire', 'the kinds are outage, no-power, flat-line, step, drift'],
  ['outage@soon', 'times are such as 90s'],
  ['outage@1m+long', 'times are such as 90s'],
  ['step=much', 'it does not have that form'],
  ['', 'it does not have that form'],
])('%j is refused: %s', (text, why) => {
  const answer = readFault(text, 3)
  expect(answer).toHaveProperty('problem')
  expect((answer as { problem: string }).problem).toContain(why)
  expect((answer as { problem: string }).problem).toContain(`got '${text}'`)
})
