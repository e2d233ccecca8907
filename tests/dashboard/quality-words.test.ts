import { expect, test } from 'vitest'
import { inventedQuality } from '#tests/support/findings-fixture.ts'
import { bedQuality } from '#hub/api/schemas/findings.ts'
import { qualitySentence } from '../../dashboard/src/quality-words.ts'

test('the probe that lost most is named with its reason; a sound bed is told in a line', () => {
  const { probes } = bedQuality.parse(inventedQuality(1, 1_780_000_000_000))
  expect(qualitySentence(probes)).toBe(
    'kettle2 (South end) lost 17 % of its hours, mostly: the value stands still. What is lost is kept, but counts for nothing.',
  )
  expect(qualitySentence(probes.slice(0, 1))).toBe('Nearly every hour of the last 30 days counts.')
  expect(qualitySentence([])).toBe('No readings in the last 30 days.')
})
