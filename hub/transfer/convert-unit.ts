/** How a unit of a file becomes the unit a channel is stored in: `value * factor + add`. */
export interface Conversion {
  readonly factor: number
  readonly add: number
}

const SAME: Conversion = { factor: 1, add: 0 }
const SPELLINGS: Readonly<Record<string, string>> = {
  '°C': 'Cel',
  C: 'Cel',
  degC: 'Cel',
  '°F': '[degF]',
  F: '[degF]',
  degF: '[degF]',
  '%': '%',
  'm3/m3': '/',
  'm³/m³': '/',
  '1': '/',
  counts: 'count',
}
/** Exact by definition of the units; Fahrenheit: NIST SP 811 (2008), appendix B.8. */
const TABLE: Readonly<Record<string, Readonly<Record<string, Conversion>>>> = {
  mV: { V: { factor: 1000, add: 0 } },
  V: { mV: { factor: 0.001, add: 0 } },
  Cel: {
    '[degF]': { factor: 5 / 9, add: -160 / 9 },
    K: { factor: 1, add: -273.15 },
  },
  '/': { '%': { factor: 0.01, add: 0 } },
}

const spelled = (unit: string): string => SPELLINGS[unit.trim()] ?? unit.trim()

/** Null when one cannot become the other. An empty unit in the file is the channel's own. */
export function conversion(from: string, to: string): Conversion | null {
  const [a, b] = [spelled(from), spelled(to)]
  if (a === '' || a === b) return SAME
  return TABLE[b]?.[a] ?? null
}

/** Units a file may have for a channel stored in `unit`, its own first. */
export function unitsFor(unit: string): readonly string[] {
  return [unit, ...Object.keys(TABLE[spelled(unit)] ?? {})]
}
