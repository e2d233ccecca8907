import { readFileSync } from 'node:fs'
import { parse } from 'csv-parse/sync'
import { CAUSES, type Cause, type WatchEvent } from '../analysis/watch/event.ts'
import { HubError } from '../errors.ts'
import { HOUR } from '../model/clock.ts'

/** What really happened, as somebody wrote it down. */
export interface Label {
  readonly at: number
  readonly cause: Cause
  readonly size: number | null
}

/** A label and an event belong together when the event was noticed within this time of it. */
const BEFORE_MS = 6 * HOUR
const AFTER_MS = 72 * HOUR

function bad(message: string): HubError {
  return new HubError('HUB_CONFIG', message, { retry: false })
}

/** Reads a table with the columns time, cause and size (may be empty). */
export function labelsOf(file: string): Label[] {
  let rows: Record<string, string>[]
  try {
    rows = parse(readFileSync(file, 'utf8'), { columns: true, bom: true, skip_empty_lines: true })
  } catch (error) {
    throw bad(`cannot read the labels in ${file}: ${(error as Error).message}`)
  }
  return rows.map((row, i) => {
    const text = row['time'] ?? ''
    const at = Date.parse(/[Z+]|-\d{2}:\d{2}$/.test(text.slice(10)) ? text : `${text}Z`)
    if (Number.isNaN(at)) {
      throw bad(`${file}, line ${i + 2}: expected a time like 2026-05-01T06:15, got '${text}'`)
    }
    const cause = CAUSES.find((known) => known === row['cause'])
    if (cause === undefined) {
      throw bad(
        `${file}, line ${i + 2}: expected one of ${CAUSES.join(', ')}, got '${row['cause'] ?? ''}'`,
      )
    }
    const size = row['size'] === undefined || row['size'] === '' ? null : Number(row['size'])
    if (size !== null && Number.isNaN(size)) {
      throw bad(`${file}, line ${i + 2}: expected a size in pH, got '${row['size'] ?? ''}'`)
    }
    return { at, cause, size }
  })
}

/** How much of what is labelled was found, when, and under which name. */
export function scoreAgainst(
  labels: readonly Label[],
  events: readonly WatchEvent[],
): { lines: string[]; found: number; named: number; without: number } {
  const used = new Set<string>()
  const lines: string[] = [`Against ${labels.length} labels:`]
  let found = 0
  let named = 0
  for (const label of labels.toSorted((a, b) => a.at - b.at)) {
    const when = new Date(label.at).toISOString().slice(0, 16).replace('T', ' ')
    const event = events.find(
      (e) =>
        !used.has(e.id) &&
        e.noticedAt >= label.at - BEFORE_MS &&
        e.noticedAt <= label.at + AFTER_MS,
    )
    if (event === undefined) {
      lines.push(`  ${when}  ${label.cause}: missed`)
      continue
    }
    used.add(event.id)
    found++
    if (event.cause === label.cause) named++
    const error = label.size === null ? '' : `, size off by ${(event.size - label.size).toFixed(2)}`
    const delay = Math.max(0, (event.noticedAt - label.at) / HOUR)
    lines.push(
      `  ${when}  ${label.cause}: found after ${delay.toFixed(0)} h${event.cause === label.cause ? '' : `, called ${event.cause}`}${error}`,
    )
  }
  const without = events.length - used.size
  lines.push(
    `  ${found} of ${labels.length} found, ${named} under the right name, ${without} events without a label.`,
  )
  return { lines, found, named, without }
}
