/** A straight line through points by least squares, and how sure its slope is. */
export interface Trend {
  readonly slope: number
  /** Standard error of the slope, widened where neighbours resemble each other. */
  readonly error: number
}

/** Ordinary least squares (any textbook); needs three points. */
export function trendOf(points: readonly (readonly [x: number, y: number])[]): Trend {
  const n = points.length
  if (n < 3) throw new Error(`a trend needs three points, got ${n}`)
  const mean = (of: (point: readonly [number, number]) => number): number =>
    points.reduce((sum, point) => sum + of(point), 0) / n
  const [mx, my] = [mean(([x]) => x), mean(([, y]) => y)]
  const sxx = points.reduce((sum, [x]) => sum + (x - mx) ** 2, 0)
  const slope = points.reduce((sum, [x, y]) => sum + (x - mx) * (y - my), 0) / sxx
  const rest = points.map(([x, y]) => y - my - slope * (x - mx))
  const left = rest.reduce((sum, one) => sum + one ** 2, 0)
  const beside = rest.reduce((sum, one, i) => sum + one * (rest[i + 1] ?? 0), 0)
  // As many points say as if there were (1 - r) / (1 + r) times as many, r: likeness of neighbours.
  const r = left === 0 ? 0 : Math.max(0, Math.min(0.95, beside / left))
  const error = Math.sqrt(left / (n - 2) / sxx) * Math.sqrt((1 + r) / (1 - r))
  return { slope, error }
}
