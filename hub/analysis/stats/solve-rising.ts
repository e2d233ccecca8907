/** Root of a rising function by bisection, between two values around it. */
export function solveRising(f: (x: number) => number, low: number, high: number): number {
  for (let i = 0; i < 200 && high - low > 1e-14 * Math.max(1, Math.abs(high)); i++) {
    const middle = (low + high) / 2
    if (f(middle) < 0) low = middle
    else high = middle
  }
  return (low + high) / 2
}
