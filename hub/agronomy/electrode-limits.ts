/** When a two-point calibration of a pH electrode is accepted, per cent of the Nernst slope and mV. */
export const ELECTRODE_LIMITS = {
  slopePercent: { low: 85, high: 105, source: 'SLOPE_CALC' },
  goodSlopePercent: { low: 95, high: 102, source: 'ALLABOUTPH' },
  /** EMF at pH 7, either sign, mV. */
  offsetMv: { most: 30, source: 'SLOPE_CALC' },
  /** Buffers should be about 3 pH apart; nearer than 2 the slope is hardly known (the 2 is judgement). */
  buffersApartPh: { about: 3, least: 2, source: 'EPA9045' },
  /** How far a buffer may lie off the line through all three, pH; beyond the second figure (recalled) no line is one. */
  residualPh: { most: 0.05, never: 0.1, source: 'EPA9045' },
  /** Buffers and sample should be within so many degrees of each other. */
  warmthApartC: { most: 2, source: 'EPA9045' },
} as const

/** How often an electrode in the soil wants fresh buffers, days; common practice, no source. */
export const CALIBRATE_EVERY = { days: 30, wetAndDryDays: 7, source: 'MEM' } as const

/**
 * When a value counts as settled: so many readings over so long that lie within so much of each other. 1 mV is
 * about 0.02 pH. Common practice, no source.
 */
export const SETTLED = { readings: 3, spanMs: 30_000, withinMv: 1, withinCounts: 10 } as const

/** Counts between a moisture probe's dry and wet point below which it tells nothing. */
export const MOISTURE_LIMITS = { leastSpanCounts: 100, source: 'MEM' } as const
