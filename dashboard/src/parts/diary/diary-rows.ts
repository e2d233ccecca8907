import type { DayAhead, Entry } from '../../../../hub/api/schemas/journal.ts'
import { dayText } from './month.ts'

/** One day of the journal: what was done on it, and what is or was planned for it. */
export interface DiaryDay {
  /** 'YYYY-MM-DD' in the garden's zone. */
  readonly day: string
  /** Oldest first. */
  readonly entries: readonly Entry[]
  readonly ahead: readonly DayAhead[]
}

/** What is looked for; null and '' let everything through. */
export interface DiaryFilter {
  readonly bed: number | null
  readonly kind: string | null
  readonly text: string
}

const holds = (text: string, wanted: string): boolean =>
  text.toLocaleLowerCase().includes(wanted.trim().toLocaleLowerCase())

/**
 * The days that hold something that is looked for, ascending.
 *
 * @param words everything a reader sees of an entry, to be searched
 */
export function diaryDays(
  entries: readonly Entry[],
  ahead: readonly DayAhead[],
  zone: string,
  { bed, kind, text }: DiaryFilter,
  words: (entry: Entry) => string,
): DiaryDay[] {
  const days = new Map<string, { entries: Entry[]; ahead: DayAhead[] }>()
  const on = (day: string): { entries: Entry[]; ahead: DayAhead[] } => {
    const known = days.get(day) ?? { entries: [], ahead: [] }
    days.set(day, known)
    return known
  }
  for (const entry of entries) {
    if (bed !== null && entry.bedId !== bed) continue
    if (kind !== null && entry.kind !== kind) continue
    if (!holds(words(entry), text)) continue
    on(dayText(entry.at, zone)).entries.push(entry)
  }
  for (const one of ahead) {
    if (bed !== null && one.bedId !== bed) continue
    if (kind !== null && kind !== 'ahead') continue
    if (!holds(`${one.summary} ${one.text}`, text)) continue
    on(one.day).ahead.push(one)
  }
  return [...days]
    .map(([day, found]) => ({
      day,
      entries: found.entries.toSorted((a, b) => a.at - b.at),
      ahead: found.ahead,
    }))
    .toSorted((a, b) => (a.day < b.day ? -1 : 1))
}
