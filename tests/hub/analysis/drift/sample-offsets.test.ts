import { expect, test } from 'vitest'
import { sampleOffsets } from '#hub/analysis/drift/sample-offsets.ts'
import type { Sample } from '#hub/analysis/drift/sample-pairs.ts'
import { DAY } from '#hub/model/clock.ts'
import { isWaterScale, SAMPLE_METHODS } from '#hub/model/journal.ts'

const bed = {
  day: Float64Array.from({ length: 60 }, (_, i) => i * DAY),
  value: new Float64Array(60).fill(6.5),
  se: new Float64Array(60).fill(0.05),
}
const sample = (day: number, ph: number, method: Sample['method']): Sample => ({
  at: day * DAY,
  ph,
  method,
})

test('three pairs of one method give the median offset, two do not, methods stay apart', () => {
  const offsets = sampleOffsets(bed, [
    sample(10, 6.3, 'laboratory 1:1'),
    sample(20, 6.2, 'laboratory 1:1'),
    sample(40, 6.35, 'laboratory 1:1'),
    sample(12, 5.8, 'laboratory CaCl2'),
    sample(22, 5.9, 'laboratory CaCl2'),
    // Nothing of the probes beside it.
    sample(90, 5.9, 'laboratory CaCl2'),
  ])
  expect(offsets.map(({ method, pairs }) => [method, pairs])).toEqual([
    ['laboratory 1:1', 3],
    ['laboratory CaCl2', 2],
  ])
  expect(offsets[0]!.offset).toBeCloseTo(-0.2, 9)
  expect(offsets[0]!.within).toBeCloseTo(0.1, 9)
  expect(offsets[0]!.sentence).toMatch(/0\.20 pH below the probes/)
  expect(offsets[1]!.offset).toBeNull()
  expect(offsets[1]!.sentence).toMatch(/3 tell the usual distance.*about 0\.6 pH.*below water/)
})

test('a pair more than 0.5 pH off asks for buffers and a second sample', () => {
  const [one] = sampleOffsets(bed, [
    sample(10, 6.5, 'laboratory'),
    sample(20, 6.5, 'laboratory'),
    sample(30, 7.1, 'laboratory'),
  ])
  expect(one!.sentence).toMatch(/One lies 0\.60 from that: calibrate/)
})

test('calcium chloride is no water scale, all else is', () => {
  expect(SAMPLE_METHODS.filter((method) => !isWaterScale(method))).toEqual([
    'slurry CaCl2',
    'laboratory CaCl2',
  ])
})
