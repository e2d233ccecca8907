import { monthText, daysText, figure } from '../words/figure.ts'
import { say } from '../words/say.ts'
import { FORECAST_YEARS, type DiskForecast } from './disk-forecast.ts'

const UNITS = ['B', 'kB', 'MB', 'GB', 'TB'] as const

/** An amount of bytes with about two digits, by the decimal prefixes of the SI: '3.2 MB'. */
export function bytesText(bytes: number): string {
  let size = Math.abs(bytes)
  let unit = 0
  while (size >= 999.5 && unit < UNITS.length - 1) {
    size /= 1000
    unit++
  }
  const digits = unit === 0 || size >= 99.5 ? 0 : size >= 9.95 ? 1 : 2
  return `${figure(bytes < 0 ? -size : size, digits)} ${UNITS[unit]}`
}

/** When the disk is full, how sure that is and what it was reckoned from. */
export function forecastText(forecast: DiskForecast, zone: string): string {
  if (forecast.status === 'insufficient') {
    const { have, need } = forecast
    return say`How fast the disk fills is known after ${daysText(need)} of looking; so far there are ${have}.`
  }
  const { disk, own, fullAt, fullFrom, fullBy, days } = forecast
  const when = (at: number): string => monthText(at, zone)
  const pace = bytesText(disk.value)
  const from = say`That was learnt from ${daysText(days)}; the data folder grows by ${bytesText(own.value)} a day.`
  if (!(disk.value > 0)) {
    return `${say`The disk does not fill: its free space did not get less.`} ${from}`
  }
  if (fullAt === null) {
    const far = say`At ${pace} a day the disk is not full within ${FORECAST_YEARS} years.`
    const early =
      fullFrom === null ? '' : ` ${say`If the uneven days were the rule: ${when(fullFrom)}.`}`
    return `${far}${early} ${from}`
  }
  const main = say`At ${pace} a day the disk is full about ${when(fullAt)}.`
  const doubt =
    fullBy === null
      ? say`Likely not before ${when(fullFrom ?? fullAt)}; the free space goes up and down so much that it may also be never.`
      : when(fullFrom ?? fullAt) === when(fullBy)
        ? say`That month is sure as far as the days were even.`
        : say`Likely between ${when(fullFrom ?? fullAt)} and ${when(fullBy)}.`
  return `${main} ${doubt} ${from}`
}

/** What stays and what is lost when readings become hours, a sentence each. */
export function thinningTexts(): readonly string[] {
  return [
    say`What stays of each hour and channel: the lowest, the mean, the median and the highest value, and how many they were. Trends, rules and replays go by hours and days and read the same as before.`,
    say`These are electrical values, as the probe sent them. A calibration that is entered or corrected later still corrects them.`,
    say`Lost are the single readings: their minutes, their flags and failed attempts. A calibration or a move within an hour holds for the whole hour, and the temperature of an hour for its lowest and highest value.`,
    say`A reading that comes once more is still known by its number, but can no longer be held against the first; one that comes for the first time goes straight into its hour.`,
    say`It cannot be undone. Only a backup made before brings the readings back.`,
  ]
}
