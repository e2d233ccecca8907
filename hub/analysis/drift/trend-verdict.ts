import type { SoilTrend } from './soil-trend.ts'
import { fixed } from '../../words/figure.ts'

/** An interval wider than this either way is no answer, pH a year. */
const TOO_WIDE = 0.25

/** What is said of a trend: an interval too wide for an answer is none. */
export function trendVerdict({
  verdict,
  low,
  high,
}: Pick<SoilTrend, 'verdict' | 'low' | 'high'>): SoilTrend['verdict'] | 'cannot tell' {
  return verdict === 'steady' && (high - low) / 2 > TOO_WIDE ? 'cannot tell' : verdict
}

/** '+0.12', '−0.30'. */
export function signed(value: number): string {
  const size = Math.abs(value)
  return `${value < 0 && Number(size.toFixed(2)) > 0 ? '−' : '+'}${fixed(size, 2)}`
}
