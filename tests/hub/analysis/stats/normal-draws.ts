import { seededRandom } from '../../../support/random.ts'

/** Seeded standard normal numbers (polar method of Marsaglia and Bray 1964, from memory). */
export function normalDraws(seed: number): () => number {
  const random = seededRandom(seed)
  return () => {
    for (;;) {
      const u = 2 * random() - 1
      const v = 2 * random() - 1
      const s = u * u + v * v
      if (s > 0 && s < 1) return u * Math.sqrt((-2 * Math.log(s)) / s)
    }
  }
}

/** A seeded first-order autoregressive series of the given standard deviation, already in its steady state. */
export function ar1Series(draw: () => number, n: number, phi: number, sd: number): Float64Array {
  const fresh = sd * Math.sqrt(1 - phi * phi)
  const out = new Float64Array(n)
  for (let i = 0; i < n; i++) out[i] = i === 0 ? sd * draw() : phi * out[i - 1]! + fresh * draw()
  return out
}
