import type { BedQuality } from '../../hub/api/schemas/findings.ts'
import { say } from './say.ts'

/** A probe that lost this share of its hours is named. */
const MUCH = 0.1

/** How the readings of the last thirty days fared: the worst first. Failed hours count for nothing. */
export function qualitySentence(probes: BedQuality['probes']): string {
  const hours = probes.reduce((sum, p) => sum + p.hours, 0)
  if (hours === 0) return say`No readings in the last 30 days.`
  const lost = (p: BedQuality['probes'][number]): number => (p.fail + p.missing) / p.hours
  const worst = probes
    .filter((p) => p.hours > 0 && lost(p) >= MUCH)
    .toSorted((a, b) => lost(b) - lost(a))
  if (worst.length === 0) {
    const all = probes.reduce((sum, p) => sum + p.fail + p.missing, 0) / hours
    return all < 0.01
      ? say`Nearly every hour of the last 30 days counts.`
      : say`${Math.round(100 * (1 - all))} % of the hours of the last 30 days count.`
  }
  const told = worst.map((p) => {
    const why = p.tests.filter(({ fail }) => fail > 0).toSorted((a, b) => b.fail - a.fail)[0]
    const meaning = why?.meaning ?? null
    const share = Math.round(100 * lost(p))
    return meaning === null
      ? say`${p.probe} (${p.spot}) lost ${share} % of its hours`
      : say`${p.probe} (${p.spot}) lost ${share} % of its hours, mostly: ${meaning}`
  })
  return say`${told.join('; ')}. What is lost is kept, but counts for nothing.`
}
