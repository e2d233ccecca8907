import { QARTOD } from './qartod.ts'
import { said, say, toSay } from '../../words/say.ts'

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
    name: toSay('gross range'),
    fail: toSay('a value no soil can have'),
    suspect: toSay('a value hardly any garden soil has'),
  },
  clipped: {
    name: toSay('clipped value'),
    fail: toSay('a value no soil can have'),
    suspect: toSay('the probe reports a value at the end of its range'),
  },
  service: {
    name: toSay('service window'),
    fail: toSay('the probe is out of the soil or being handled'),
    suspect: toSay('the probe was handled and still settles'),
  },
  flatLine: {
    name: toSay('flat line'),
    fail: toSay('the value stands still'),
    suspect: toSay('the value has not moved for hours'),
  },
  temperature: {
    name: toSay('electrode temperature'),
    fail: toSay('too cold or too hot for the electrode'),
    suspect: toSay('nearly too cold or too hot for the electrode'),
  },
  spike: {
    name: toSay('spike'),
    fail: toSay('a lone value far from those before and after'),
    suspect: toSay('it stands out from the values before and after'),
  },
  dryContact: {
    name: toSay('dry contact'),
    fail: toSay('the soil is too dry to read pH'),
    suspect: toSay('the soil is rather dry to read pH'),
  },
  neighbours: {
    name: toSay('neighbouring spots'),
    fail: toSay('it has left the other spots of the bed'),
    suspect: toSay('it has left the other spots of the bed'),
  },
  rateOfChange: {
    name: toSay('rate of change'),
    fail: toSay('it changed faster than soil does'),
    suspect: toSay('it changed faster than soil does'),
  },
  unsettled: {
    name: toSay('settling after water'),
    fail: toSay('water has just come'),
    suspect: toSay('water has just come and the reading settles'),
  },
  supply: {
    name: toSay('supply'),
    fail: toSay('the supply of the probe is low'),
    suspect: toSay('the supply of the probe is low'),
  },
  probe: {
    name: toSay("probe's own doubt"),
    fail: toSay('the probe itself doubts the reading'),
    suspect: toSay('the probe itself doubts the reading'),
  },
}

/** One column of flags per test. */
export type TestFlags = Readonly<Record<QualityTest, Uint8Array>>

/** The gravest reason of a row in words; null when it passed, or was not looked at. */
export function reasonAt(tests: TestFlags, row: number): string | null {
  for (const grade of ['fail', 'suspect'] as const) {
    const found = QUALITY_TESTS.find((test) => tests[test][row] === QARTOD[grade])
    if (found !== undefined) return said(TEST_WORDS[found][grade])
  }
  return tests.grossRange[row] === QARTOD.missing ? say`no reading` : null
}
