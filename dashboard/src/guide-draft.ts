import type { BufferSet } from '../../hub/api/schemas/garden.ts'
import type { CalibrationInput, CalibrationView } from '../../hub/api/schemas/probe.ts'
import { bufferPh } from './calibration-draft.ts'
import { say } from './say.ts'

/** What was taken down of one buffer. */
export interface TakenBuffer {
  readonly name: string
  readonly ph: number
  readonly emfMv: number
  readonly settled: boolean
}

/** How far a guided calibration has come; kept on the device until it is stored or given up. */
export interface GuideDraft {
  readonly channel: string
  /** When it began, epoch ms: readings from then on are those of buffers or of hands. */
  readonly startedAt: number | null
  /** Id of the set; buffers of two never meet in one calibration. */
  readonly set: BufferSet['id']
  /** Degrees Celsius. */
  readonly temperatureC: number | null
  /** Names of the buffers in the order they are taken. */
  readonly wanted: readonly string[]
  readonly taken: readonly TakenBuffer[]
  /** Since when the probe stands in the one at hand, epoch ms. */
  readonly since: number | null
  readonly dryRaw: number | null
  readonly wetRaw: number | null
  readonly soilPoints: readonly { readonly raw: number; readonly vwc: number }[]
  /** Moisture: no further soil is wanted. */
  readonly soilDone: boolean
}

export const emptyGuide = (channel: string, set: BufferSet | undefined): GuideDraft => ({
  channel,
  startedAt: null,
  set: set?.id ?? 'technical',
  temperatureC: null,
  wanted: usualPair(set),
  taken: [],
  since: null,
  dryRaw: null,
  wetRaw: null,
  soilPoints: [],
  soilDone: false,
})

/** The buffers about pH 7 and 4 of a set, first the one that shows the offset. */
export function usualPair(set: BufferSet | undefined): readonly string[] {
  const near = (ph: number): string => {
    const apart = (b: BufferSet['buffers'][number]): number =>
      Math.abs((bufferPh(b, 25) ?? Infinity) - ph)
    return set?.buffers.toSorted((a, b) => apart(a) - apart(b))[0]?.name ?? ''
  }
  return [near(7), near(4)]
}

/** pH of a buffer of a set at a temperature, to a thousandth; null outside its table. */
export function phOf(
  set: BufferSet | undefined,
  name: string,
  temperatureC: number | null,
): number | null {
  const buffer = set?.buffers.find((b) => b.name === name)
  if (buffer === undefined || temperatureC === null) return null
  const ph = bufferPh(buffer, temperatureC)
  return ph === null ? null : Math.round(ph * 1000) / 1000
}

/** What keeps the first step from being left; null: nothing. */
export function startProblem(draft: GuideDraft, set: BufferSet | undefined): string | null {
  if (draft.temperatureC === null) return say`give the temperature of the buffers`
  if (new Set(draft.wanted).size < draft.wanted.length) return say`choose different buffers`
  const out = draft.wanted.find((name) => phOf(set, name, draft.temperatureC) === null)
  return out === undefined ? null : say`buffer ${out} has no value at that temperature`
}

/** The calibration as the API takes it; null while something is missing. */
export function guidedCalibration(
  draft: GuideDraft,
  kind: 'electrode' | 'moisture',
  at: number,
  note: string,
): CalibrationInput | null {
  const common = { channel: draft.channel, at, note }
  if (kind === 'moisture') {
    const { dryRaw, wetRaw, soilPoints } = draft
    if (dryRaw === null || wetRaw === null) return null
    return { ...common, kind, dryRaw, wetRaw, soilPoints: soilPoints.map((p) => ({ ...p })) }
  }
  const [first, second, ...more] = draft.taken.map(({ ph, emfMv }) => ({ ph, emfMv }))
  if (first === undefined || second === undefined || draft.temperatureC === null) return null
  return {
    ...common,
    kind,
    points: [first, second, ...more],
    temperatureC: draft.temperatureC,
    bufferSet: draft.set,
  }
}

/** The newest dry and wet points of a channel, to which soils can be added. */
export function endsOf(
  calibrations: readonly CalibrationView[],
  channel: string,
): Pick<GuideDraft, 'dryRaw' | 'wetRaw' | 'soilPoints'> | null {
  const newest = calibrations
    .filter((c) => c.channel === channel && c.kind === 'moisture')
    .toSorted((a, b) => b.at - a.at)[0]
  return newest === undefined
    ? null
    : { dryRaw: newest.dryRaw, wetRaw: newest.wetRaw, soilPoints: newest.soilPoints }
}
