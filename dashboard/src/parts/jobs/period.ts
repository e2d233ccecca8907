import { say } from '../../say.ts'

/** A stretch of time roughly, ms. */
export function saidPeriod(ms: number): string {
  const seconds = Math.max(1, Math.round(ms / 1000))
  if (seconds < 90) return say`${seconds} s`
  const minutes = Math.round(seconds / 60)
  return minutes < 90 ? say`${minutes} min` : say`${Math.round(minutes / 60)} h`
}
