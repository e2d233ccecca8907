import { afterEach, beforeEach, expect, test } from 'vitest'
import type { Problem } from '#hub/api/schemas/common.ts'
import type { OrderView } from '#hub/api/schemas/order.ts'
import type { ProbeDetail } from '#hub/api/schemas/probe-account.ts'
import { DAY, MINUTE } from '#hub/model/clock.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'

const NOW = 1_780_000_000_000
let host: ApiHost
beforeEach(async () => {
  host = await apiHost(NOW)
  await host.deps.garden.hear([{ id: 'row1', at: NOW, state: 'on', intervalS: 900 }], 50)
  await host.deps.garden.adoptProbe('row1', 'Row one', NOW)
})
afterEach(async () => {
  await host[Symbol.asyncDispose]()
})

const detail = async (): Promise<ProbeDetail> =>
  (await host.call('GET', '/api/probes/row1')).body as ProbeDetail
const ask = (what: string, more: object = {}) =>
  host.call('POST', '/api/probes/row1/commands', { what, ...more })
const settings = (body: object) => host.call('PUT', '/api/probes/row1/settings', body)
const state = (to: 'on' | 'sleep' | 'off') =>
  host.deps.garden.hear([{ id: 'row1', at: NOW, state: to }], 50)

test('a probe is shown with what became of its readings', async () => {
  await host.deps.readings.append(
    batchOf({
      readings: [0, 1, 4].map((seq) => sampleReading({ seq })),
      marks: [{ probe: 'row1', boot: 1, top: 1, lost: 0, missing: 2, highest: 4, lastAt: NOW }],
    }),
  )
  const { account } = await detail()
  expect(account.total).toMatchObject({ received: 3, missing: 2, writtenOff: 0 })
  expect(account.boots).toMatchObject([{ boot: 1, received: 3, missing: 2 }])
  expect(account.sentences).toEqual([expect.stringContaining('2 readings of the present boot')])
})

test('settings stand retained as one document, and the page tells that they wait', async () => {
  const answer = await settings({ intervalS: 300, samples: 16, settleS: null })
  expect(answer.status).toBe(200)
  const { id } = answer.body as OrderView
  expect(host.sent).toEqual([
    { topic: 'lm1/row1/dn/cfg', payload: `{"cv":${id},"iv":300,"ns":16}`, retain: true },
  ])
  expect((await detail()).orders).toMatchObject({
    settings: { id, state: 'sent', settings: { intervalS: 300, samples: 16, settleS: null } },
    standing: { id },
    others: [],
  })
})

test('refused settings are told with the word of the probe; what it took before stands', async () => {
  const { id: first } = (await settings({ intervalS: 300, samples: null, settleS: null }))
    .body as OrderView
  await host.deps.garden.answerOrder('row1', first, { at: NOW, ok: true, reason: null })
  const { id } = (await settings({ intervalS: 60, samples: null, settleS: null })).body as OrderView
  await host.deps.garden.answerOrder('row1', id, { at: NOW, ok: false, reason: 'iv' })
  expect((await detail()).orders).toMatchObject({
    settings: { id, state: 'refused', reason: 'iv' },
    standing: { id: first, state: 'done' },
  })
})

test('settings that the specification does not allow are refused before they are sent', async () => {
  const none = { intervalS: null, samples: null, settleS: null }
  for (const [wrong, path] of [
    [{ ...none, intervalS: 59 }, 'intervalS'],
    [{ ...none, samples: 257 }, 'samples'],
    [{ ...none, settleS: 0.5 }, 'settleS'],
    [none, 'body'],
  ] as const) {
    const answer = await settings(wrong)
    expect(answer.status, JSON.stringify(wrong)).toBe(400)
    expect((answer.body as Problem).errors?.map((e) => e.path)).toEqual([path])
  }
  expect(host.sent).toEqual([])
})

test('a command goes to a probe that is there at once, never retained', async () => {
  const answer = await ask('ident')
  expect(answer.status).toBe(201)
  const { id } = answer.body as OrderView
  expect(answer.body).toMatchObject({ state: 'sent', times: 1, expiresAt: NOW + DAY })
  expect(host.sent).toEqual([
    { topic: 'lm1/row1/dn/cmd', payload: `{"id":${id},"do":"ident"}`, retain: false },
  ])
  expect((await detail()).orders.others).toMatchObject([{ id, what: 'ident', state: 'sent' }])
})

test('a command for a probe that sleeps or is away waits, and expires', async () => {
  for (const away of ['sleep', 'off'] as const) {
    await state(away)
    expect((await ask('reboot', { withinS: 60 })).body).toMatchObject({ state: 'waiting' })
  }
  expect(host.sent).toEqual([])
  host.setTime(NOW + MINUTE)
  expect((await detail()).orders.others.map((o) => o.state)).toEqual(['expired', 'expired'])
})

test('only own probes are asked, and only for what they know', async () => {
  expect((await ask('dance')).status).toBe(400)
  expect((await ask('resend')).status).toBe(400)
  expect((await ask('read', { withinS: 1 })).status).toBe(400)
  await host.deps.garden.hear([{ id: 'stray', at: NOW }], 50)
  const stray = await host.call('POST', '/api/probes/stray/commands', { what: 'read' })
  expect(stray).toMatchObject({ status: 409 })
  const nobody = await host.call('PUT', '/api/probes/nobody/settings', {
    intervalS: 60,
    samples: null,
    settleS: null,
  })
  expect(nobody.status).toBe(404)
  expect(host.sent).toEqual([])
})
