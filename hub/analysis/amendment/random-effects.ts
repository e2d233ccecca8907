/** One estimate to be pooled: a value and its standard error. */
export interface StudyEstimate {
  readonly value: number
  readonly se: number
}

export interface PooledEstimate {
  readonly value: number
  readonly se: number
  /** Between studies, beyond their own errors. */
  readonly tau2: number
  /** Cochran's Q: k - 1 is expected where all share one value. */
  readonly q: number
  /** Share of the scatter that is between studies, 0 to 1. */
  readonly i2: number
  /** Of the random effects, adding up to 1. */
  readonly weights: readonly number[]
}

/**
 * Random-effects mean of DerSimonian and Laird (Controlled Clinical Trials 7, 1986): inverse variances plus a
 * variance between studies by the method of moments.
 *
 * @throws RangeError with fewer than two studies or a standard error that is not positive
 */
export function randomEffects(studies: readonly StudyEstimate[]): PooledEstimate {
  if (studies.length < 2) throw new RangeError(`pooling needs two studies, got ${studies.length}`)
  for (const { se } of studies) {
    if (!(se > 0 && Number.isFinite(se)))
      throw new RangeError(`expected a positive error, got ${se}`)
  }
  const fixed = studies.map(({ se }) => 1 / (se * se))
  const sum = total(fixed)
  const mean = total(studies.map(({ value }, i) => fixed[i]! * value)) / sum
  const q = total(studies.map(({ value }, i) => fixed[i]! * (value - mean) ** 2))
  const spread = sum - total(fixed.map((w) => w * w)) / sum
  const beyond = q - (studies.length - 1)
  const tau2 = Math.max(0, beyond / spread)
  const random = studies.map(({ se }) => 1 / (se * se + tau2))
  const whole = total(random)
  return {
    value: total(studies.map(({ value }, i) => random[i]! * value)) / whole,
    se: 1 / Math.sqrt(whole),
    tau2,
    q,
    i2: q > 0 ? Math.max(0, beyond / q) : 0,
    weights: random.map((w) => w / whole),
  }
}

function total(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0)
}
