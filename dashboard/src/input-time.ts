import { civil, instant } from './zone.ts'

const two = (n: number): string => String(n).padStart(2, '0')

/** Value of a `datetime-local` input. */
export function toInputTime(at: number, zone: string): string {
  const c = civil(at, zone)
  return `${String(c.year).padStart(4, '0')}-${two(c.month)}-${two(c.day)}T${two(c.hour)}:${two(c.minute)}`
}

/** Epoch ms of the value of a `datetime-local` input; null when it is not a time. */
export function fromInputTime(text: string, zone: string): number | null {
  const match = /^(\d{4})-(\d{2})-(\d{2})T(\d{2}):(\d{2})/.exec(text)
  if (match === null) return null
  const [year = 0, month = 0, day = 0, hour = 0, minute = 0] = match.slice(1).map(Number)
  return instant({ year, month, day, hour, minute }, zone)
}
