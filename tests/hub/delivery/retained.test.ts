import { afterEach, beforeEach, expect, test, vi } from 'vitest'
import { createRetainedDelivery } from '#hub/delivery/retained.ts'

beforeEach(() => {
  vi.useFakeTimers()
})
afterEach(() => {
  vi.useRealTimers()
})

/** A broker that can be away; remembers what stands on each topic. */
function broker() {
  const standing = new Map<string, string>()
  const state = { up: true, sent: 0 }
  const publish = (topic: string, payload: string): Promise<void> => {
    if (!state.up) return Promise.reject(new Error('broker away'))
    state.sent += 1
    if (payload === '') standing.delete(topic)
    else standing.set(topic, payload)
    return Promise.resolve()
  }
  return { standing, state, publish }
}

test('what is set stands; empty clears', async () => {
  const b = broker()
  const d = createRetainedDelivery(b.publish, () => undefined)
  d.set('a', '1')
  d.set('b', '2')
  await vi.runAllTimersAsync()
  expect(Object.fromEntries(b.standing)).toEqual({ a: '1', b: '2' })
  d.set('a', '')
  await vi.runAllTimersAsync()
  expect(Object.fromEntries(b.standing)).toEqual({ b: '2' })
  expect(d.waiting()).toEqual([])
})

test('while the broker is away the newest wish waits and trouble is told; then it is sent', async () => {
  const b = broker()
  b.state.up = false
  const trouble: string[] = []
  const d = createRetainedDelivery(b.publish, (m) => trouble.push(m))
  d.set('a', '1')
  d.set('a', '2')
  await vi.advanceTimersByTimeAsync(5000)
  expect(trouble.length).toBeGreaterThan(1)
  expect(trouble[0]).toContain('broker away')
  expect(d.waiting()).toEqual(['a'])
  b.state.up = true
  await vi.advanceTimersByTimeAsync(60_000)
  expect(b.standing.get('a')).toBe('2')
  expect(b.state.sent).toBe(1)
  d.stop()
})

test('a broker that came back empty gets everything again', async () => {
  const b = broker()
  const d = createRetainedDelivery(b.publish, () => undefined)
  d.set('a', '1')
  d.set('b', '2')
  await vi.runAllTimersAsync()
  b.standing.clear()
  d.resend()
  await vi.runAllTimersAsync()
  expect(Object.fromEntries(b.standing)).toEqual({ a: '1', b: '2' })
})

test('a wish that comes while another is on its way is sent too', async () => {
  const standing = new Map<string, string>()
  const d = createRetainedDelivery(
    async (topic, payload) => {
      await new Promise((resolve) => setTimeout(resolve, 10))
      standing.set(topic, payload)
    },
    () => undefined,
  )
  d.set('a', '1')
  await vi.advanceTimersByTimeAsync(5)
  d.set('a', '2')
  d.set('b', '3')
  await vi.advanceTimersByTimeAsync(100)
  expect(Object.fromEntries(standing)).toEqual({ a: '2', b: '3' })
})
