/**
 * Seeded uniform numbers in [0, 1) for tests: the same seed gives the same run.
 * Method: mulberry32, a public-domain 32-bit generator (from memory); good enough for test data.
 */
export function seededRandom(seed: number): () => number {
  let a = seed >>> 0
  return () => {
    a = (a + 0x6d2b79f5) | 0
    let t = Math.imul(a ^ (a >>> 15), 1 | a)
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296
  }
}
