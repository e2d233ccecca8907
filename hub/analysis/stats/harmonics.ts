/**
 * Cosine and sine columns of a season and its overtones: for each order k the cosine, then the sine, of
 * 2 pi k time / period. Time and period in the same unit, epoch ms included.
 */
export function harmonics(time: Float64Array, period: number, order: number): Float64Array[] {
  const out: Float64Array[] = []
  for (let k = 1; k <= order; k++) {
    // The remainder first: cosines of large angles lose their digits.
    const angle = time.map((t) => (2 * Math.PI * k * (t % period)) / period)
    out.push(
      angle.map((a) => Math.cos(a)),
      angle.map((a) => Math.sin(a)),
    )
  }
  return out
}
