import { QARTOD } from './qartod.ts'

/** The tests, in the order in which their reasons are told. */
export const QUALITY_TESTS = [
  'grossRange',
  'clipped',
  'service',
  'flatLine',
  'temperature',
  'spike',
  'dryContact',
  'neighbours',
  'rateOfChange',
  'unsettled',
  'supply',
  'probe',
] as const
export type QualityTest = (typeof QUALITY_TESTS)[number]

/** What each test is called, and what its verdicts mean. */
export const TEST_WORDS: Readonly<
  Record<QualityTest, { readonly name: string; readonly fail: string; readonly suspect: string }>
> = {
  grossRange: {
    name: 'gross range',
    fail: 'a value no soil can have',
    suspect: 'a value hardly any garden soil has',
  },
  clipped: {
    name: 'clipped value',
    fail: 'a value no soil can have',
    suspect: 'the probe reports a value at the end of its range',
  },
  service: {
    name: 'service window',
    fail: 'the probe is out of the soil or being handled',
    suspect: 'the probe was handled and still settles',
  },
  flatLine: {
    name: 'flat line',
    fail: 'the value stands still',
    suspect: 'the value has not moved for hours',
  },
  temperature: {
    name: 'electrode temperature',
    fail: 'too cold or too hot for the electrode',
    suspect: 'nearly too cold or too hot for the electrode',
  },
  spike: {
    name: 'spike',
    fail: 'a lone value far from those before and after',
    suspect: 'it stands out from the values before and after',
  },
  dryContact: {
    name: 'dry contact',
    fail: 'the soil is too dry to read pH',
    suspect: 'the soil is rather dry to read pH',
  },
  neighbours: {
    name: 'neighbouring spots',
    fail: 'it has left the other spots of the bed',
    suspect: 'it has left the other spots of the bed',
  },
  rateOfChange: {
    name: 'rate of change',
    fail: 'it changed faster than soil does',
    suspect: 'it changed faster than soil does',
  },
  unsettled: {
    name: 'settling after water',
    fail: 'water has just come',
    suspect: 'water has just come and the reading settles',
  },
  supply: {
    name: 'supply',
    fail: 'the supply of the probe is low',
    suspect: 'the supply of the probe is low',
  },
  probe: {
    name: "probe's own doubt",
    fail: 'the probe itself doubts the reading',
    suspect: 'the probe itself doubts the reading',
  },
}

/** One column of flags per test. */
export type TestFlags = Readonly<Record<QualityTest, Uint8Array>>

/** The gravest reason of a row in words; null when it passed, or was not looked at. */
export function reasonAt(tests: TestFlags, row: number): string | null {
  for (const grade of ['fail', 'suspect'] as const) {
    const found = QUALITY_TESTS.find((test) => tests[test][row] === QARTOD[grade])
    if (found !== undefined) return TEST_WORDS[found][grade]
  }
  return tests.grossRange[row] === QARTOD.missing ? 'no reading' : null
}
