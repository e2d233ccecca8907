import { beforeEach, expect, test } from 'vitest'
import { freshMemory, obey, type ProbeMemory } from '#hub/demo/probe-obedience.ts'
import type { CmdBody } from '#hub/wire/schemas.ts'

let memory: ProbeMemory
let done: string[]
let answers: unknown[]
let take: (leaf: string, payload: string, retained?: boolean) => void

function powerUp(refusal: string | null = null): void {
  const listen = obey('row1', memory, {
    apply: (settings) => done.push(`settings ${settings.cv}`),
    carryOut(command: CmdBody, after) {
      if (refusal === null) after(() => done.push(command.do))
      return refusal
    },
    answer({ topic, payload, retain }) {
      expect([topic, retain]).toEqual(['lm1/row1/up/res', false])
      answers.push(JSON.parse(payload))
    },
  })
  take = (leaf, payload, retained = false) =>
    listen(`lm1/${leaf}`, new TextEncoder().encode(payload), retained)
}
beforeEach(() => {
  memory = freshMemory()
  done = []
  answers = []
  powerUp()
})

test('settings are taken once and answered each time, over a loss of power too', () => {
  take('row1/dn/cfg', '{"cv":5,"iv":300,"ns":16}', true)
  powerUp()
  take('row1/dn/cfg', '{"cv":5,"iv":300,"ns":16}', true)
  expect(done).toEqual(['settings 5'])
  expect(answers).toEqual([
    { id: 5, ok: true },
    { id: 5, ok: true },
  ])
})

test('settings out of range are refused as a whole, and the last good ones stay', () => {
  take('row1/dn/cfg', '{"cv":5,"iv":300}')
  take('row1/dn/cfg', '{"cv":6,"iv":1,"ns":4}')
  take('row1/dn/cfg', '{"cv":7,"iv":90,"ns":1000}')
  expect(memory.settings).toEqual({ cv: 5, iv: 300 })
  expect(done).toEqual(['settings 5'])
  expect(answers.slice(1)).toEqual([
    { id: 6, ok: false, e: 'iv' },
    { id: 7, ok: false, e: 'ns' },
  ])
})

test('settings of which not even the version can be read are left alone, and so are empty ones', () => {
  for (const text of ['', 'nonsense', '[]', 'null', '{"iv":60}', '{"cv":-1}', '{"cv":"5"}'])
    take('row1/dn/cfg', text, true)
  expect([done, answers]).toEqual([[], []])
})

test('a command is carried out once by its number, answered again when it comes again', () => {
  take('row1/dn/cmd', '{"id":17,"do":"reboot"}')
  powerUp()
  take('row1/dn/cmd', '{"id":17,"do":"reboot"}')
  take('row1/dn/cmd', '{"id":18,"do":"ident"}')
  expect(done).toEqual(['reboot', 'ident'])
  expect(answers.map((a) => (a as { id: number }).id)).toEqual([17, 17, 18])
})

test('a refusal is remembered like a deed', () => {
  powerUp('gone')
  take('row1/dn/cmd', '{"id":3,"do":"resend","b":1,"n":4,"k":2}')
  powerUp()
  take('row1/dn/cmd', '{"id":3,"do":"resend","b":1,"n":4,"k":2}')
  expect(answers).toEqual([
    { id: 3, ok: false, e: 'gone' },
    { id: 3, ok: false, e: 'gone' },
  ])
  expect(done).toEqual([])
})

test('a kept copy of a command is none', () => {
  take('row1/dn/cmd', '{"id":17,"do":"reboot"}', true)
  expect([done, answers]).toEqual([[], []])
})

test('a command nobody knows is refused by its number', () => {
  take('row1/dn/cmd', '{"id":9,"do":"dance"}')
  expect(answers).toEqual([{ id: 9, ok: false, e: 'do' }])
})

test("other probes' orders and everything else below dn are none of its business", () => {
  take('row2/dn/cmd', '{"id":1,"do":"reboot"}')
  take('row2/dn/cfg', '{"cv":1,"iv":60}')
  take('row1/dn/ack', '{"b":1,"n":2}')
  take('row1/up/res', '{"id":1,"ok":true}')
  take('hub/state', '{"s":"on"}')
  expect([done, answers]).toEqual([[], []])
})
