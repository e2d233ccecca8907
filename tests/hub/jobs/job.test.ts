import { describe, expect, test } from 'vitest'
import { advanced, begun, ended, givenUp, isOver } from '#hub/jobs/job.ts'

const T = 1_780_000_000_000
const job = begun(1, 'import', 'Ash', T)

describe('a job', () => {
  test('begins with nothing known, and guesses what is left once that is worth something', () => {
    expect(job).toMatchObject({ state: 'running', share: null, leftMs: null, by: 'Ash' })
    expect(advanced(job, 0.5, T + 10).leftMs).toBeNull()
    expect(advanced(job, 0.001, T + 60_000).leftMs).toBeNull()
    expect(advanced(job, 0.25, T + 10_000).leftMs).toBe(30_000)
    expect(advanced(job, 1, T + 10_000).leftMs).toBe(0)
  })

  test('never goes back, and takes no share that is none', () => {
    const half = advanced(job, 0.5, T + 5000)
    expect(advanced(half, 0.4, T + 6000).share).toBe(0.5)
    expect(advanced(half, 7, T + 6000).share).toBe(1)
    expect(advanced(half, NaN, T + 6000)).toBe(half)
  })

  test('is given up once, still goes on to its end, and then stays as it is', () => {
    const given = givenUp(advanced(job, 0.5, T + 5000))
    expect(given).toMatchObject({ state: 'cancelling', share: 0.5, leftMs: null })
    expect(isOver(given)).toBe(false)
    const over = ended(given, { state: 'cancelled', kept: { done: 3, of: 9 } }, T + 6000)
    expect(over).toMatchObject({ state: 'cancelled', kept: { done: 3, of: 9 }, endedAt: T + 6000 })
    expect(givenUp(over)).toBe(over)
    expect(advanced(over, 0.9, T + 7000)).toBe(over)
    expect(() => ended(over, { state: 'done', result: 1 }, T + 7000)).toThrow(/over/)
  })

  test('done is all of it; failed says why', () => {
    expect(ended(job, { state: 'done', result: 4 }, T)).toMatchObject({ share: 1, result: 4 })
    const failed = ended(job, { state: 'failed', reason: 'disk full', kept: null }, T)
    expect(failed).toMatchObject({ state: 'failed', reason: 'disk full', share: null })
  })
})
