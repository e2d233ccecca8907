import type { BufferSet } from '../../hub/api/schemas/garden.ts'
import type { CalibrationInput, CalibrationView } from '../../hub/api/schemas/probe.ts'
import { toStored } from './format.ts'
import { amountField, fieldNumber, notNumber, parseNumber } from './number-field.ts'
import type { Units } from './format.ts'
import { say } from './say.ts'
import { fromInputTime, toInputTime } from './input-time.ts'

type Buffer = BufferSet['buffers'][number]

/** pH of a buffer at a temperature, between the tabulated ones by straight line; null outside the table. */
export function bufferPh(buffer: Buffer, temperatureC: number): number | null {
  const points = buffer.points.toSorted((a, b) => a.temperatureC - b.temperatureC)
  const above = points.findIndex((point) => point.temperatureC >= temperatureC)
  const high = points[above]
  if (high === undefined) return null
  if (high.temperatureC === temperatureC) return high.ph
  const low = points[above - 1]
  if (low === undefined) return null
  const part = (temperatureC - low.temperatureC) / (high.temperatureC - low.temperatureC)
  return low.ph + part * (high.ph - low.ph)
}

export interface CalibrationDraft {
  readonly kind: 'electrode' | 'moisture'
  readonly channel: string
  readonly at: string
  /** In the gardener's degrees. */
  readonly temperature: string
  readonly ph: readonly [string, string]
  readonly emf: readonly [string, string]
  readonly dry: string
  readonly wet: string
  readonly note: string
  /** What the form does not show of the calibration that is corrected: it stays. */
  readonly kept: CalibrationView | null
}

/** A draft to begin with: the calibration that is to be corrected, or an empty one for `channel`. */
export function calibrationDraft(
  calibration: CalibrationView | null,
  channel: { readonly name: string; readonly senses: string } | undefined,
  now: number,
  { zone, units }: { zone: string; units: Units },
): CalibrationDraft {
  return {
    kind: calibration?.kind ?? (channel?.senses === 'moist.raw' ? 'moisture' : 'electrode'),
    channel: calibration?.channel ?? channel?.name ?? '',
    at: toInputTime(calibration?.at ?? now, zone),
    temperature: amountField('temperature', calibration?.temperatureC ?? 25, units),
    ph: [fieldNumber(calibration?.points[0]?.ph), fieldNumber(calibration?.points[1]?.ph)],
    emf: [fieldNumber(calibration?.points[0]?.emfMv), fieldNumber(calibration?.points[1]?.emfMv)],
    dry: fieldNumber(calibration?.dryRaw),
    wet: fieldNumber(calibration?.wetRaw),
    note: calibration?.note ?? '',
    kept: calibration,
  }
}

/** The calibration as the API takes it, or what cannot be read. */
export function calibrationOf(
  draft: CalibrationDraft,
  { zone, units }: { zone: string; units: Units },
): { calibration: CalibrationInput; errors: { path: string; message: string }[] } {
  const errors: { path: string; message: string }[] = []
  const number = (text: string, path: string): number => {
    const value = parseNumber(text)
    if (value === null) errors.push({ path, message: notNumber(text) })
    return value ?? 0
  }
  const at = fromInputTime(draft.at, zone)
  if (at === null) errors.push({ path: 'at', message: say`give a day and a time` })
  const common = { channel: draft.channel, at: at ?? 0, note: draft.note }
  if (draft.kind === 'moisture') {
    const calibration = {
      ...common,
      kind: 'moisture' as const,
      dryRaw: number(draft.dry, 'dryRaw'),
      wetRaw: number(draft.wet, 'wetRaw'),
      soilPoints: draft.kept?.soilPoints ?? [],
    }
    return { calibration, errors }
  }
  const point = (i: 0 | 1) => ({
    ph: number(draft.ph[i], `points.${i}.ph`),
    emfMv: number(draft.emf[i], `points.${i}.emfMv`),
  })
  const shownTemperature = number(draft.temperature, 'temperatureC')
  // Buffers keep the name of their set only while nobody typed over them.
  const { kept } = draft
  const untouched =
    kept !== null && [0, 1].every((i) => draft.ph[i] === fieldNumber(kept.points[i]?.ph))
  const calibration = {
    ...common,
    kind: 'electrode' as const,
    points: [point(0), point(1), ...(draft.kept?.points.slice(2) ?? [])] as Extract<
      CalibrationInput,
      { kind: 'electrode' }
    >['points'],
    // To a thousandth of a degree: 77 F is 25 C, not 25.000000000000004.
    temperatureC: Math.round(toStored('temperature', shownTemperature, units) * 1000) / 1000,
    ...(untouched ? { bufferSet: kept.bufferSet } : {}),
  }
  return { calibration, errors }
}
