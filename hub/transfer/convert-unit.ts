/** How a unit of a file becomes the unit a channel is stored in: `value * factor + add`. */
export interface Conversion {
  readonly factor: number
  readonly add: number
}

const SAME: Conversion = { factor: 1, add: 0 }
// A map: units come out of files, and 'constructor' is no unit.
const SPELLINGS: ReadonlyMap<string, string> = new Map([
  ['°C', 'Cel'],
  ['C', 'Cel'],
  ['degC', 'Cel'],
  ['°F', '[degF]'],
  ['F', '[degF]'],
  ['degF', '[degF]'],
  ['m3/m3', '/'],
  ['m³/m³', '/'],
  ['1', '/'],
  // A secondary unit of SenML (RFC 8798, from memory).
  ['/100', '%'],
  ['counts', 'count'],
])
/** Exact by definition of the units; Fahrenheit: NIST SP 811 (2008), appendix B.8. */
const TABLE: ReadonlyMap<string, ReadonlyMap<string, Conversion>> = new Map([
  ['mV', new Map([['V', { factor: 1000, add: 0 }]])],
  ['V', new Map([['mV', { factor: 0.001, add: 0 }]])],
  [
    'Cel',
    new Map([
      ['[degF]', { factor: 5 / 9, add: -160 / 9 }],
      ['K', { factor: 1, add: -273.15 }],
    ]),
  ],
  ['/', new Map([['%', { factor: 0.01, add: 0 }]])],
  // A thousand milliwatts are a watt.
  ['dBm', new Map([['dBW', { factor: 1, add: 30 }]])],
])

const spelled = (unit: string): string => SPELLINGS.get(unit.trim()) ?? unit.trim()

/** Null when one cannot become the other. An empty unit in the file is the channel's own. */
export function conversion(from: string, to: string): Conversion | null {
  const [a, b] = [spelled(from), spelled(to)]
  if (a === '' || a === b) return SAME
  return TABLE.get(b)?.get(a) ?? null
}

/** Units a file may have for a channel stored in `unit`, its own first. */
export function unitsFor(unit: string): readonly string[] {
  return [unit, ...(TABLE.get(spelled(unit))?.keys() ?? [])]
}
