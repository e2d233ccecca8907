/** Natural logarithm of the gamma function; Lanczos approximation (g = 7, nine terms), from memory, error below 1e-13. */
function logGamma(x: number): number {
  const terms = [
    0.99999999999980993, 676.5203681218851, -1259.1392167224028, 771.32342877765313,
    -176.61502916214059, 12.507343278686905, -0.13857109526572012, 9.9843695780195716e-6,
    1.5056327351493116e-7,
  ]
  if (x < 0.5) return Math.log(Math.PI / Math.sin(Math.PI * x)) - logGamma(1 - x)
  let sum = terms[0]!
  for (let i = 1; i < terms.length; i++) sum += terms[i]! / (x - 1 + i)
  const t = x + 6.5
  return 0.5 * Math.log(2 * Math.PI) + (x - 0.5) * Math.log(t) - t + Math.log(sum)
}

/**
 * Regularised incomplete beta function I_x(a, b) by Lentz's continued fraction (Handbook of Mathematical
 * Functions 26.5.8, from memory). `x` from 0 to 1, `a` and `b` positive.
 */
export function incompleteBeta(x: number, a: number, b: number): number {
  if (x <= 0) return 0
  if (x >= 1) return 1
  if (x > (a + 1) / (a + b + 2)) return 1 - incompleteBeta(1 - x, b, a)
  const front = Math.exp(
    logGamma(a + b) - logGamma(a) - logGamma(b) + a * Math.log(x) + b * Math.log1p(-x),
  )
  const tiny = 1e-300
  let c = 1
  let d = 1 - ((a + b) * x) / (a + 1)
  d = 1 / (Math.abs(d) < tiny ? tiny : d)
  let fraction = d
  for (let m = 1; m <= 500; m++) {
    for (const numerator of [
      (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m)),
      (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1)),
    ]) {
      d = 1 + numerator * d
      d = 1 / (Math.abs(d) < tiny ? tiny : d)
      c = 1 + numerator / c
      if (Math.abs(c) < tiny) c = tiny
      fraction *= c * d
    }
    if (Math.abs(c * d - 1) < 1e-15) break
  }
  return (front * fraction) / a
}
