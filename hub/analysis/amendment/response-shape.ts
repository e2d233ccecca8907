/**
 * Course of a pH after a material went on: nothing for `lagDays`, then a rise and a return, the difference of two
 * exponentials scaled so that its highest point is 1.
 */
export interface ResponseShape {
  readonly lagDays: number
  /** Half-time of the rise, days. */
  readonly riseHalfDays: number
  /** Half-time of the return, days; Infinity where nothing comes back. Longer than that of the rise. */
  readonly returnHalfDays: number
}

const STEPS = 60

/** Share of the highest effect `days` after the dose, 0 to 1. */
export function responseAt(shape: ResponseShape, days: number): number {
  const since = days - shape.lagDays
  return since <= 0 ? 0 : rawAt(shape, since) / rawPeak(shape)
}

/** Days from the dose to the highest point: ln(kr / kd) / (kr - kd) after the lag; Infinity where nothing comes back. */
export function peakDay(shape: ResponseShape): number {
  return shape.lagDays + risingDays(shape)
}

/**
 * Days from the highest point until half of it has gone. Not the half-time of the return: around the peak the
 * course is flat. Infinity where nothing comes back.
 */
export function halfAfterPeak(shape: ResponseShape): number {
  if (shape.returnHalfDays === Infinity) return Infinity
  const start = risingDays(shape)
  const half = rawPeak(shape) / 2
  let low = start
  let high = start + shape.returnHalfDays
  while (rawAt(shape, high) > half) high += shape.returnHalfDays
  for (let i = 0; i < STEPS; i++) {
    const middle = (low + high) / 2
    if (rawAt(shape, middle) > half) low = middle
    else high = middle
  }
  return low - start
}

/** Height of the unscaled difference of exponentials at its highest point. */
export function rawPeak(shape: ResponseShape): number {
  return shape.returnHalfDays === Infinity ? 1 : rawAt(shape, risingDays(shape))
}

function risingDays({ riseHalfDays, returnHalfDays }: ResponseShape): number {
  if (returnHalfDays === Infinity) return Infinity
  const rise = Math.LN2 / riseHalfDays
  const back = Math.LN2 / returnHalfDays
  return Math.log(rise / back) / (rise - back)
}

function rawAt({ riseHalfDays, returnHalfDays }: ResponseShape, days: number): number {
  const left = returnHalfDays === Infinity ? 1 : 2 ** (-days / returnHalfDays)
  return left - 2 ** (-days / riseHalfDays)
}
