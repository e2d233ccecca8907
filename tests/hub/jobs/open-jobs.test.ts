import { expect, test } from 'vitest'
import { HubError } from '#hub/errors.ts'
import type { Job } from '#hub/jobs/job.ts'
import { openJobs, type Control } from '#hub/jobs/open-jobs.ts'

function opened() {
  let now = 0
  const changes: Job[] = []
  const mistakes: unknown[] = []
  const jobs = openJobs({
    clock: () => now,
    onChange: (job) => changes.push(job),
    onFatal: (error) => mistakes.push(error),
  })
  return { jobs, changes, mistakes, pass: (ms: number) => (now += ms) }
}
/** Work that goes on until it is told to end. */
function held() {
  const gate = Promise.withResolvers<void>()
  const begun = Promise.withResolvers<Control>()
  return {
    work: async (at: Control) => {
      begun.resolve(at)
      await Promise.race([
        gate.promise,
        new Promise((resolve) => at.signal.addEventListener('abort', resolve)),
      ])
      return 'came'
    },
    begun: begun.promise,
    go: () => gate.resolve(),
  }
}

test('one of a kind at a time; others run beside it', async () => {
  const { jobs } = opened()
  const one = held()
  const first = jobs.start('import', null, one.work)!
  expect(jobs.start('import', null, one.work)).toBeNull()
  const other = jobs.start('rebuild', null, async () => 2)!
  expect(await other.result).toBe(2)
  one.go()
  expect(await first.result).toBe('came')
  expect(jobs.list().map(({ kind, state }) => `${kind} ${state}`)).toEqual([
    'rebuild done',
    'import done',
  ])
  expect(jobs.start('import', null, async () => 1)).not.toBeNull()
})

test('who looks on hears of the beginning, of some steps, and of the end', async () => {
  const { jobs, changes, pass } = opened()
  const { result } = jobs.start('replay', null, async (at) => {
    for (let i = 1; i <= 100; i++) {
      pass(100)
      at.tell(i / 100)
    }
    return null
  })!
  await result
  expect(changes[0]).toMatchObject({ state: 'running', share: null })
  expect(changes.at(-1)).toMatchObject({ state: 'done', share: 1 })
  // Ten seconds of work, a word every half second.
  expect(changes.length).toBeGreaterThan(15)
  expect(changes.length).toBeLessThan(25)
})

test('given up: what was kept is said, and the work saw it', async () => {
  const { jobs } = opened()
  const one = held()
  const { job, result } = jobs.start('import', 'Ash', one.work)!
  const at = await one.begun
  at.keep({ done: 2000, of: 5000 })
  expect(jobs.cancel(job.id)?.state).toBe('cancelling')
  expect(await result).toBeNull()
  expect(jobs.get(job.id)).toMatchObject({ state: 'cancelled', kept: { done: 2000, of: 5000 } })
  expect(jobs.cancel(job.id)?.state).toBe('cancelled')
  expect(jobs.cancel(99)).toBeNull()
})

test('the outside failing is told with the job; a mistake of ours goes further', async () => {
  const { jobs, mistakes } = opened()
  const full = new HubError('HUB_STORE_UNAVAILABLE', 'disk full', { retry: true })
  const failed = jobs.start('backup', null, () => Promise.reject(full))!
  await expect(failed.result).rejects.toBe(full)
  expect(jobs.get(failed.job.id)).toMatchObject({ state: 'failed', reason: 'disk full' })
  const wrong = jobs.start('backup', null, () => Promise.reject(new TypeError('ours')))!
  await expect(wrong.result).rejects.toThrow('ours')
  await jobs.stop()
  expect(mistakes).toEqual([new TypeError('ours')])
})

test('a hub that stops gives up what runs and waits for its end', async () => {
  const { jobs } = opened()
  const one = held()
  const { job } = jobs.start('replay', null, one.work)!
  await jobs.stop()
  expect(jobs.get(job.id)?.state).toBe('cancelled')
})

test('the last twenty that are over are remembered', async () => {
  const { jobs } = opened()
  for (let i = 0; i < 25; i++) await jobs.start('rebuild', null, async () => i)!.result
  expect(jobs.list().map(({ id }) => id)).toEqual(Array.from({ length: 20 }, (_, i) => 25 - i))
})
