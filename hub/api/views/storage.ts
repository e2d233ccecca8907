import { diskForecast } from '../../alerts/disk-forecast.ts'
import { bytesText, forecastText, thinningTexts } from '../../alerts/storage-words.ts'
import type { StorageDay } from '../../model/storage.ts'
import type { StoreSize, Thinnable } from '../../store/retention/upkeep.ts'
import { counted, dayText } from '../../words/figure.ts'
import { say } from '../../words/say.ts'
import type { StorageView, ThinningView } from '../schemas/storage.ts'

/** With fewer readings the file is mostly what every file of readings begins with. */
const LEAST_TOLD = 10_000

const readingsView = ({ readings, readingBytes, ...size }: StoreSize): StorageView['readings'] => ({
  bytes: size.bytes,
  emptyBytes: size.emptyBytes,
  kept: readings,
  values: size.values,
  bytesPerReading: readings < LEAST_TOLD ? null : readingBytes / readings,
  bytesPerValue: readings < LEAST_TOLD || size.values === 0 ? null : readingBytes / size.values,
  hours: size.hours,
  hourBytes: size.hourBytes,
  thinnedTo: size.thinnedTo,
  shrinks: size.shrinks,
})

export function storageView(of: {
  readonly folderBytes: number | null
  readonly disk: StorageView['disk']
  readonly size: StoreSize | null
  readonly retention: StorageView['retention']
  readonly days: readonly StorageDay[]
  readonly now: number
  readonly zone: string
}): StorageView {
  const forecast = diskForecast(of.days, of.now)
  return {
    folderBytes: of.folderBytes,
    disk: of.disk,
    readings: of.size === null ? null : readingsView(of.size),
    retention: { ...of.retention },
    forecast,
    sentence: forecastText(forecast, of.zone),
  }
}

export function thinningView(would: Thinnable, before: number, zone: string): ThinningView {
  const savedBytes = Math.max(0, would.bytes - would.hourBytes)
  const day = dayText(before, zone)
  const kept =
    would.daysKept === 0
      ? ''
      : ` ${say`Days that would get no smaller stay whole: ${would.daysKept}.`}`
  return {
    before,
    ...would,
    savedBytes,
    sentence:
      would.readings === 0
        ? `${say`Nothing would go: no readings from before ${day} would get smaller as hours.`}${kept}`
        : `${say`${counted(would.readings, 'reading')} from before ${day} would become ${would.hours} hours of channels; ${bytesText(would.bytes)} become ${bytesText(would.hourBytes)}.`}${kept}`,
    notes: [...thinningTexts()],
  }
}
