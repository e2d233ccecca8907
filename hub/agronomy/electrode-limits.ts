/** When a two-point calibration of a pH electrode is accepted, per cent of the Nernst slope and mV. */
export const ELECTRODE_LIMITS = {
  slopePercent: { low: 85, high: 105, source: 'SLOPE_CALC' },
  goodSlopePercent: { low: 95, high: 102, source: 'ALLABOUTPH' },
  /** EMF at pH 7, either sign, mV. */
  offsetMv: { most: 30, source: 'SLOPE_CALC' },
  /** Buffers should be about 3 pH apart; nearer than 2 the slope is hardly known (the 2 is judgement). */
  buffersApartPh: { about: 3, least: 2, source: 'EPA9045' },
} as const

/** Counts between a moisture probe's dry and wet point below which it tells nothing. */
export const MOISTURE_LIMITS = { leastSpanCounts: 100, source: 'MEM' } as const
