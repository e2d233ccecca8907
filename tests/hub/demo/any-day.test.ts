import { beforeAll, describe, expect, test } from 'vitest'
import type { Assessment } from '#hub/analysis/assessment.ts'
import { SECOND } from '#hub/model/clock.ts'
import { demoScenario } from '#hub/simulator/demo-scenario.ts'
import { assessGarden } from './garden-view.ts'

const EVENT_AFTER_MS = 40 * SECOND

// Seasons, both ends of the day and of the year, the leap day.
describe.each([
  '2027-01-15T08:12:00Z',
  '2027-04-01T00:03:00Z',
  '2027-07-15T15:40:00Z',
  '2026-11-25T13:37:11Z',
  '2026-12-31T23:58:30Z',
  '2028-02-29T05:00:00Z',
  '2027-10-10T21:00:00Z',
])('the demo started at %s', (started) => {
  let calm: ReadonlyMap<string, Assessment> = new Map()
  let after: ReadonlyMap<string, Assessment> = new Map()
  beforeAll(async () => {
    const scenario = demoScenario({ seed: 20260, now: Date.parse(started) })
    const views = await assessGarden(
      scenario,
      [EVENT_AFTER_MS - 5 * SECOND, EVENT_AFTER_MS + 120 * SECOND],
      EVENT_AFTER_MS,
    )
    calm = views[0]!
    after = views[1]!
  })

  test('shows no shift before the event', () => {
    expect(calm.size).toBe(8)
    for (const [bed, { shift }] of calm) expect(shift, bed).toBeNull()
  })

  test('shows each bed where its story puts it', () => {
    expect(Object.fromEntries(Array.from(calm, ([bed, { standing }]) => [bed, standing]))).toEqual({
      kettle: 'in band',
      bramble: 'in band',
      moss: 'above',
      heron: 'in band',
      lantern: 'in band',
      cricket: 'below',
      drizzle: 'in band',
      ledge: 'in band',
    })
    for (const [key, atMost] of [
      ['moss', 0.4],
      ['cricket', 0.8],
    ] as const) {
      const { ph, band } = calm.get(key)!
      if (ph.status !== 'ok' || band.band === null) throw new Error(`${key} has no pH or no band`)
      const outside = Math.max(band.band.low - ph.value, ph.value - band.band.high)
      expect(outside, key).toBeLessThan(atMost)
      expect(outside, key).toBeGreaterThan(0.15)
    }
  })

  test('has one probe to check, whose own reading is still one a soil can have', () => {
    const findings = Array.from(calm.values(), ({ probes }) => probes).flat()
    expect(findings.map(({ probe, kind, needsCheck }) => [probe, kind, needsCheck])).toEqual([
      ['drizzle3', 'apart from the bed', true],
    ])
    const broken = calm.get('drizzle')!.spots.find(({ probe }) => probe === 'drizzle3')!
    expect(broken.leftOut).not.toBeNull()
    expect(broken.newestPh!).toBeGreaterThan(7)
    expect(broken.newestPh!).toBeLessThan(8.2)
    expect(findings[0]!.to! - findings[0]!.from!).toBeGreaterThan(0.7)
    expect(findings[0]!.to! - findings[0]!.from!).toBeLessThan(1.1)
  })

  test('shows a harmful shift of the right bed, all its spots agreeing, two minutes after the event', () => {
    for (const [bed, { shift }] of after) {
      if (bed !== 'heron') expect(shift, bed).toBeNull()
    }
    const { shift, standing } = after.get('heron')!
    expect(shift).toMatchObject({ grade: 'harmful', spotsSteady: [] })
    expect(shift!.spotsMoved).toHaveLength(3)
    expect(shift!.change).toBeGreaterThan(1.3)
    expect(shift!.change).toBeLessThan(1.7)
    expect(shift!.sureness).toBeGreaterThan(0.9)
    expect(standing).toBe('above')
  })
})
