import type { SoilTestInput } from '../../../../hub/api/schemas/planning.ts'
import { toStored } from '../../format.ts'
import { fieldNumber, notNumber, parseNumber } from '../../number-field.ts'
import type { Units } from '../../format.ts'
import { say } from '../../say.ts'
import { fromInputTime } from '../../input-time.ts'
import { toGM2 } from './lime-units.ts'
import type { LimeUnit } from './lime-units.ts'

interface Where {
  readonly zone: string
  readonly units: Units
}
export type Errors = { path: string; message: string }[]
/** A test ready to be sent; null when something cannot be read. */
export interface Made {
  readonly test: SoilTestInput | null
  readonly errors: Errors
}

/** Fewer jars give no line. */
export const LEAST_JARS = 3

/** One row of the jar table, as typed. */
export interface JarRow {
  readonly lime: string
  readonly ph: string
}
export interface JarDraft {
  readonly at: string
  readonly soil: string
  /** Carbonate equivalent on the label of the lime that was used, %. */
  readonly equivalent: string
  readonly rows: readonly JarRow[]
  readonly text: string
}

const EMPTY_ROW: JarRow = { lime: '', ph: '' }

/** Five jars of half a kilogram, with amounts that span what garden soils need. */
export function jarDraft(at: string): JarDraft {
  return {
    at,
    soil: '500',
    equivalent: '100',
    rows: [0, 0.5, 1, 2, 4].map((lime) => ({ lime: fieldNumber(lime), ph: '' })),
    text: '',
  }
}
export const withJar = (rows: readonly JarRow[]): readonly JarRow[] => [...rows, EMPTY_ROW]

/**
 * The jars with their lime as pure calcium carbonate. Rows without a pH are jars that were not made; a pH without an
 * amount is a mistake.
 */
export function jarTestOf(draft: JarDraft, { zone }: Where): Made {
  const read = reader()
  const at = read.time('at', draft.at, zone)
  const soilG = read.number('soilG', draft.soil)
  const share = read.percent('equivalent', draft.equivalent)
  const jars = draft.rows.flatMap(({ lime, ph }, i) => {
    if (ph.trim() === '') return []
    const grams = read.number(`jars.${i}.limeG`, lime)
    return [{ limeG: grams * share, ph: read.number(`jars.${i}.ph`, ph) }]
  })
  if (jars.length < LEAST_JARS) {
    read.errors.push({
      path: 'jars',
      message: say`expected at least three jars with their pH, got ${jars.length}`,
    })
  } else if (new Set(jars.map(({ limeG }) => limeG)).size < LEAST_JARS) {
    read.errors.push({
      path: 'jars',
      message: say`expected at least three different amounts of lime`,
    })
  }
  return read.made({ kind: 'jar test', at, text: draft.text, soilG, jars })
}

export interface LaboratoryDraft {
  readonly says: 'lime requirement' | 'exchangeable acidity'
  readonly at: string
  readonly amount: string
  readonly unit: LimeUnit
  /** Carbonate equivalent of the lime the laboratory speaks of, %. */
  readonly equivalent: string
  /** In the gardener's unit of depth. */
  readonly depth: string
  readonly fromPh: string
  readonly toPh: string
  /** meq/100 g, the same as cmol(+)/kg. */
  readonly acidity: string
  readonly ph: string
  readonly text: string
}

/** @param depth worked depth the figure is for, in the gardener's unit */
export function laboratoryDraft(at: string, units: Units): LaboratoryDraft {
  return {
    says: 'lime requirement',
    at,
    amount: '',
    unit: units === 'us' ? 'lb/1000 sq ft' : 'g/m2',
    equivalent: '100',
    depth: '',
    fromPh: '',
    toPh: '',
    acidity: '',
    ph: '',
    text: '',
  }
}

export function laboratoryTestOf(draft: LaboratoryDraft, { zone, units }: Where): Made {
  const read = reader()
  const at = read.time('at', draft.at, zone)
  const { text } = draft
  if (draft.says === 'exchangeable acidity') {
    const meqPer100G = read.number('meqPer100G', draft.acidity)
    const ph = read.number('ph', draft.ph)
    return read.made({ kind: 'exchangeable acidity', at, text, meqPer100G, ph })
  }
  const amount = read.number('limeGM2', draft.amount)
  const share = read.percent('equivalent', draft.equivalent)
  const depth = read.number('depthM', draft.depth)
  const fromPh = read.number('fromPh', draft.fromPh)
  const toPh = read.number('toPh', draft.toPh)
  return read.made({
    kind: 'lime requirement',
    at,
    text,
    limeGM2: toGM2(amount, draft.unit) * share,
    depthM: toStored('depth', depth, units),
    fromPh,
    toPh,
  })
}

/** Reads fields one by one and keeps what is wrong with them. */
function reader() {
  const errors: Errors = []
  const number = (path: string, text: string): number => {
    const value = parseNumber(text)
    if (value === null) errors.push({ path, message: notNumber(text) })
    return value ?? Number.NaN
  }
  return {
    errors,
    number,
    /** A share from a percentage of a label, 1 to 200. */
    percent: (path: string, text: string): number => {
      const value = number(path, text)
      if (value < 1 || value > 200) {
        errors.push({ path, message: say`expected per cent from 1 to 200, got ${text.trim()}` })
      }
      return value / 100
    },
    time: (path: string, text: string, zone: string): number => {
      const value = fromInputTime(text, zone)
      if (value === null) errors.push({ path, message: say`give a day and a time` })
      return value ?? 0
    },
    made: (test: SoilTestInput): Made => ({ test: errors.length > 0 ? null : test, errors }),
  }
}
