import { expect, test } from 'vitest'
import { ingestSteps, refusedStep } from '../../dashboard/src/parts/hub-steps.ts'

test('an ingest process that is well needs nothing done', () => {
  expect(ingestSteps({ clockOffMs: null, silentSince: null })).toEqual([])
})

test('for a silent process and for a clock that is off it is told what to do', () => {
  expect(ingestSteps({ clockOffMs: null, silentSince: 1 })).toEqual([
    expect.stringMatching(/^See whether it runs and reaches InfluxDB, .* leave its folder/),
  ])
  expect(ingestSteps({ clockOffMs: -9000, silentSince: null })).toEqual([
    expect.stringMatching(/^Have the clock of its machine set by NTP/),
  ])
  expect(ingestSteps({ clockOffMs: 9000, silentSince: 1 })).toHaveLength(2)
})

test('readings that InfluxDB refuses: where they are, and how they go there after all', () => {
  expect(refusedStep({ refused: 0 })).toBeNull()
  expect(refusedStep({ refused: 1 })).toMatch(/^Nothing is lost: .* start the hub again/)
})
