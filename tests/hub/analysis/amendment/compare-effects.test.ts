import { expect, test } from 'vitest'
import { type BedEffect, compareEffects } from '#hub/analysis/amendment/compare-effects.ts'
import type { DoseEffect } from '#hub/analysis/amendment/dose-effect.ts'

let day = 0
function effect(
  bed: string,
  material: string,
  peak: number,
  half: number,
  days: number | null,
  more: Partial<DoseEffect> = {},
): BedEffect {
  return {
    bed,
    effect: {
      ids: [++day],
      at: day * 86_400_000,
      material,
      question: 'advantage over untreated',
      verdict: 'effect',
      onsetDays: null,
      peakDays: null,
      peak: { value: peak, low: peak - half, high: peak + half },
      present: null,
      halfLife:
        days === null
          ? { kind: 'at least', days: 100 }
          : {
              kind: 'known',
              days: { value: days, low: days / 1.5, high: days * 1.5 },
              early: false,
            },
      notLargerThan: null,
      halfBackAt: null,
      curve: null,
      points: null,
      sentence: '',
      grounds: [],
      ...more,
    },
  }
}

test('treatments of one material are pooled across beds, whatever the gardener called it', () => {
  const all = compareEffects([
    effect('Beans', 'Garden lime', 0.62, 0.1, 200),
    effect('Kale', 'ground limestone', 0.68, 0.1, 300),
    effect('Kale', 'sulfur', -0.5, 0.1, null),
  ])
  expect(all.map(({ material }) => material)).toEqual(['elemental sulfur', 'ground limestone'])
  const lime = all[1]!
  expect(lime.treatments.map(({ bed }) => bed)).toEqual(['Beans', 'Kale'])
  if (lime.peak.status !== 'ok' || lime.halfLife.status !== 'ok') throw new Error('not pooled')
  // Equal weights: the plain mean, the error of one over root two.
  expect(lime.peak.span.value).toBeCloseTo(0.65, 9)
  expect(lime.peak.span.high! - lime.peak.span.low!).toBeCloseTo(0.2 / Math.sqrt(2), 6)
  expect(lime.peak.between).toBe(0)
  // Half-lives on the scale of ratios: the geometric mean.
  expect(lime.halfLife.span.value).toBeCloseTo(Math.sqrt(200 * 300), 6)
  expect(lime.sentence).toMatch(/agree within their own doubt/)
  expect(all[0]!.peak.status).toBe('insufficient')
  expect(all[0]!.sentence).toMatch(/not enough to compare/)
})

test('what differs beyond its doubt is said to differ, and the interval shows it', () => {
  const [lime] = compareEffects([
    effect('A', 'lime', 0.2, 0.05, null),
    effect('B', 'lime', 0.9, 0.05, null),
    effect('C', 'lime', 0.5, 0.05, null),
  ])
  if (lime!.peak.status !== 'ok') throw new Error('not pooled')
  expect(lime!.peak.heterogeneity).toBeGreaterThan(0.9)
  expect(lime!.peak.span.low!).toBeLessThan(0.2)
  expect(lime!.peak.sentence).toMatch(/look at each/)
  expect(lime!.halfLife.status).toBe('insufficient')
})

test('a treatment without measurable effect counts: leaving it out would pool luck', () => {
  const [lime] = compareEffects([
    effect('A', 'lime', 0.4, 0.1, null),
    effect('B', 'lime', 0.02, 0.1, null, { verdict: 'no measurable effect' }),
  ])
  if (lime!.peak.status !== 'ok') throw new Error('not pooled')
  expect(lime!.peak.treatments).toBe(2)
  expect(lime!.peak.span.value).toBeCloseTo(0.21, 6)
})

test('answers to different questions are not thrown together', () => {
  expect(() =>
    compareEffects([
      effect('A', 'lime', 0.4, 0.1, null),
      effect('B', 'lime', 0.4, 0.1, null, { question: 'above where it was' }),
    ]),
  ).toThrow(/different questions/)
})

test('nothing to compare is nothing', () => {
  expect(compareEffects([])).toEqual([])
})
