import { civil } from '../../zone.ts'
import type { FigureTable } from './figure-table.ts'

const two = (n: number): string => String(n).padStart(2, '0')

/** A moment on the clock of a zone with its distance from UTC, as in '2026-05-01T06:00:00+01:00' (ISO 8601, RFC 3339). */
export function zonedIso(at: number, zone: string): string {
  const c = civil(at, zone)
  const asUtc = Date.UTC(c.year, c.month - 1, c.day, c.hour, c.minute, c.second)
  const ahead = Math.round((asUtc - Math.floor(at / 1000) * 1000) / 60_000)
  const size = Math.abs(ahead)
  const day = `${String(c.year).padStart(4, '0')}-${two(c.month)}-${two(c.day)}`
  const clock = `${two(c.hour)}:${two(c.minute)}:${two(c.second)}`
  return `${day}T${clock}${ahead < 0 ? '-' : '+'}${two(Math.floor(size / 60))}:${two(size % 60)}`
}

/** What a program for tables would take for a formula stands as text: names come from outside. */
function cell(value: number | string | null): string {
  if (value === null) return ''
  if (typeof value === 'number') return String(value)
  const text = /^[=+\-@\t\r]/.test(value) ? `'${value}` : value
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text
}

/** The table as comma-separated values (RFC 4180): decimal point, UTF-8, the same rows in the same order. */
export function csvOf({ times, fields }: FigureTable, zone: string, timeHead: string): string {
  const lines = [[timeHead, ...fields.map(({ head }) => head)].map(cell)]
  times.forEach((at, row) =>
    lines.push([zonedIso(at, zone), ...fields.map(({ value }) => cell(value(row)))]),
  )
  return `${lines.map((line) => line.join(',')).join('\r\n')}\r\n`
}
