/** @throws RangeError unless `p` lies strictly between 0 and 1: quantiles at the ends are infinite. */
export function checkProbability(p: number): void {
  if (!(p > 0 && p < 1)) throw new RangeError(`a probability between 0 and 1 is needed, got ${p}`)
}

/** @throws RangeError unless `freedom` is a positive finite number. */
export function checkFreedom(freedom: number): void {
  if (!(freedom > 0 && freedom < Infinity)) {
    throw new RangeError(`degrees of freedom must be positive and finite, got ${freedom}`)
  }
}
