import { expect, test } from 'vitest'
import { diskForecast, type DiskForecast } from '#hub/alerts/disk-forecast.ts'
import { bytesText, forecastText } from '#hub/alerts/storage-words.ts'
import { DAY } from '#hub/model/clock.ts'
import type { StorageDay } from '#hub/model/storage.ts'
import { inLanguage } from '#hub/words/say.ts'
import { seededRandom } from '../../support/random.ts'

const START = Date.UTC(2026, 0, 1)
const GB = 1e9
const look = (day: number, usedBytes: number, freeBytes: number): StorageDay => ({
  at: START + day * DAY,
  usedBytes,
  freeBytes,
  totalBytes: 64 * GB,
  readings: 1000 * day,
})
const ok = (forecast: DiskForecast): Extract<DiskForecast, { status: 'ok' }> => {
  if (forecast.status !== 'ok') throw new Error(`expected a forecast, got ${forecast.status}`)
  return forecast
}

test('a disk that fills evenly is full when arithmetic says, without doubt', () => {
  const days = Array.from({ length: 31 }, (_, i) => look(i, i * 0.1 * GB, 20 * GB - i * 0.1 * GB))
  const forecast = ok(diskForecast(days, START + 30 * DAY))
  expect(forecast.days).toBe(30)
  expect(forecast.own.value).toBeCloseTo(0.1 * GB, 0)
  expect(forecast.disk.high - forecast.disk.low).toBeLessThan(1)
  // 17 GB are left after 30 days, at 0.1 GB a day.
  expect(((forecast.fullAt ?? 0) - START) / DAY).toBeCloseTo(30 + 170, 3)
})

test('the doubt holds the true pace about four times out of five', () => {
  const random = seededRandom(11)
  let held = 0
  const RUNS = 400
  for (let run = 0; run < RUNS; run++) {
    let free = 30 * GB
    const days: StorageDay[] = []
    for (let day = 0; day < 40; day++) {
      days.push(look(day, GB, free))
      // Twelve times a half is about normal: mean 0, standard deviation 1.
      const noise = Array.from({ length: 12 }, random).reduce((sum, one) => sum + one, -6)
      free -= 0.05 * GB + 0.1 * GB * noise
    }
    const { disk } = ok(diskForecast(days, START + 39 * DAY))
    if (disk.low <= 0.05 * GB && 0.05 * GB <= disk.high) held++
  }
  expect(held / RUNS).toBeGreaterThan(0.74)
  expect(held / RUNS).toBeLessThan(0.86)
})

test('a file that came and went widens the doubt and leaves the pace alone', () => {
  const days = Array.from({ length: 30 }, (_, i) => {
    const visitor = i >= 10 && i < 13 ? 8 * GB : 0
    return look(i, GB, 30 * GB - i * 0.05 * GB - visitor)
  })
  const forecast = ok(diskForecast(days, START + 29 * DAY))
  expect(forecast.disk.value).toBeCloseTo(0.05 * GB, 0)
  expect(forecast.disk.high).toBeGreaterThan(0.2 * GB)
  expect(forecast.fullBy).toBeNull()
})

test('days without a hub count by their length', () => {
  const days = [0, 1, 2, 9, 10, 30].map((day) => look(day, GB, 20 * GB - day * 0.2 * GB))
  expect(ok(diskForecast(days, START + 30 * DAY)).disk.value).toBeCloseTo(0.2 * GB, 0)
})

test('a week is needed; after tidying it is begun anew; what grows again is not learnt from before', () => {
  const few = [0, 1, 2, 3, 4].map((day) => look(day, GB, 20 * GB - day * GB))
  expect(diskForecast(few, START + 4 * DAY)).toEqual({ status: 'insufficient', have: 4, need: 7 })
  expect(diskForecast([], START)).toEqual({ status: 'insufficient', have: 0, need: 7 })
  const tidied = Array.from({ length: 20 }, (_, i) =>
    i < 15 ? look(i, 5 * GB, 20 * GB - i * GB) : look(i, GB, 30 * GB),
  )
  expect(diskForecast(tidied, START + 19 * DAY)).toEqual({
    status: 'insufficient',
    have: 4,
    need: 7,
  })
})

test('a disk that does not fill is never full, and one that hardly fills not within twenty years', () => {
  const still = Array.from({ length: 20 }, (_, i) => look(i, GB, 20 * GB))
  expect(ok(diskForecast(still, START + 19 * DAY)).fullAt).toBeNull()
  const slow = Array.from({ length: 20 }, (_, i) => look(i, GB, 20 * GB - i * 1000))
  expect(ok(diskForecast(slow, START + 19 * DAY)).fullAt).toBeNull()
})

test('sentences say when, how sure, and from what', () => {
  const days = Array.from({ length: 31 }, (_, i) => look(i, i * 0.1 * GB, 20 * GB - i * 0.1 * GB))
  const forecast = diskForecast(days, START + 30 * DAY)
  expect(forecastText(forecast, 'UTC')).toBe(
    'At 100 MB a day the disk is full about July 2026. That month is sure as far as the days were even. ' +
      'That was learnt from 30 days; the data folder grows by 100 MB a day.',
  )
  expect(inLanguage('de', () => forecastText(forecast, 'UTC'))).toContain('etwa im Juli 2026 voll')
  expect(inLanguage('es', () => forecastText(forecast, 'UTC'))).toContain('hacia julio de 2026')
  expect(forecastText(diskForecast([], START), 'UTC')).toBe(
    'How fast the disk fills is known after 7 days of looking; so far there are 0.',
  )
  // German bends '7 Tage' after most prepositions, and the number comes as it is.
  const german = (told: DiskForecast): string => inLanguage('de', () => forecastText(told, 'UTC'))
  expect(german(diskForecast([], START))).toContain('sobald 7 Tage beobachtet sind')
  expect(german(forecast)).toContain('Dafür wurden 30 Tage beobachtet')
})

test('bytes by decimal prefixes, about two digits', () => {
  expect([0, 999, 1000, 31_400, 999_600, 4.2e6, 7.25e10, 3e15].map(bytesText)).toEqual([
    '0 B',
    '999 B',
    '1 kB',
    '31.4 kB',
    '1 MB',
    '4.2 MB',
    '72.5 GB',
    '3000 TB',
  ])
})
