import { expect, test } from 'vitest'
import { DAY } from '#hub/model/clock.ts'
import { apiHost } from '../../support/api-host.ts'
import { readOpenMetrics } from '../../support/open-metrics.ts'
import { smallGarden, SMALL_GARDEN_NOW } from '../../support/small-garden.ts'
import { until } from '../../support/until.ts'

test('OpenMetrics text by its grammar, with names that say their units', async () => {
  await using host = await apiHost(SMALL_GARDEN_NOW)
  const { bedId } = await smallGarden(host)
  for (let day = 10; day >= 0; day--) {
    await host.deps.garden.noteStorageDay({
      at: SMALL_GARDEN_NOW - day * DAY,
      usedBytes: 1e9,
      freeBytes: 10e9 + day * 1e9,
      totalBytes: 64e9,
      readings: 1,
    })
  }
  host.evaluation.touch()
  await until('the bed was looked at', () => host.evaluation.latest(bedId)?.ph.status === 'ok')
  const answer = await host.app.inject({ url: '/metrics' })
  expect(answer.statusCode).toBe(200)
  expect(answer.headers['content-type']).toBe(
    'application/openmetrics-text; version=1.0.0; charset=utf-8',
  )
  const families = readOpenMetrics(answer.body)
  const value = (name: string, labels: Record<string, string> = {}) =>
    families
      .flatMap(({ samples }) => samples)
      .find(
        (s) =>
          s.name === name && Object.entries(labels).every(([key, text]) => s.labels[key] === text),
      )?.value
  expect(value('loamline_healthy')).toBe(1)
  expect(value('loamline_readings_total')).toBe(2 * 3 * 96)
  expect(value('loamline_rule_runs_total')).toBeGreaterThan(0)
  expect(value('loamline_probes', { adopted: 'yes' })).toBe(2)
  // Quotes and backslashes of a name come back as they were.
  const bed = { bed: 'Heron "Row" \\ north' }
  expect(value('loamline_bed_soil_ph', bed)).toBeGreaterThan(5)
  expect(value('loamline_bed_soil_temperature_celsius', bed)).toBeCloseTo(15)
  expect(value('loamline_probe_supply_volts', { probe: 'kes1' })).toBeCloseTo(3.7)
  // Full when arithmetic says: 10 GB left, 1 GB a day.
  expect(value('loamline_disk_growth_bytes_per_day')).toBeCloseTo(1e9, -3)
  expect(value('loamline_disk_full_time_seconds')).toBeCloseTo(
    (SMALL_GARDEN_NOW + 10 * DAY) / 1000,
    0,
  )
  // Nobody knows the moisture of a probe without dry and wet points.
  expect(value('loamline_bed_soil_moisture_ratio', bed)).toBeUndefined()
})

test('a line that breaks the grammar is noticed', () => {
  const good = '# TYPE a gauge\n# HELP a Something.\na{b="c\\"d"} 1\n# EOF\n'
  expect(readOpenMetrics(good)[0]!.samples[0]!.labels).toEqual({ b: 'c"d' })
  for (const bad of [
    good.replace('# EOF\n', ''),
    good.replace('# EOF\n', '# EOF\n\n'),
    good.replace(' 1\n', '  1\n'),
    good.replace('gauge', 'guage'),
    good.replace('a{', 'z{'),
    good.replace('\\"', '"'),
    good.replace('\\"', '\\x'),
    good.replace('a{b', 'a{1b'),
    good.replace('a{b="c\\"d"} 1\n', 'a{b="x"} 1\na{b="x"} 2\n'),
    good.replace('gauge', 'counter'),
    '# TYPE a gauge\na 1\n# TYPE b gauge\nb 1\n# TYPE a gauge\na 2\n# EOF\n',
  ]) {
    expect(() => readOpenMetrics(bad), bad).toThrow(/line/)
  }
})
