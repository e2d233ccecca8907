import type { PlanningSettingsView } from '../../../../hub/api/schemas/planning.ts'
import { say } from '../../say.ts'

/** A growing season in the form: by the soil, or days of the year as typed. */
export interface SeasonDraft {
  readonly by: 'soil' | 'dates'
  readonly fromDay: string
  readonly fromMonth: string
  readonly toDay: string
  readonly toMonth: string
}
type Errors = { path: 'from' | 'to'; message: string }[]

/** What stands in the form before the gardener has said anything else. */
const FIRST = { from: '04-01', to: '10-31' }

const split = (day: string): readonly [string, string] => {
  const [month = '', number = ''] = day.split('-')
  return [month, String(Number(number))]
}

export function seasonDraft(season: PlanningSettingsView['season']): SeasonDraft {
  const { from, to } = season ?? FIRST
  const [fromMonth, fromDay] = split(from)
  const [toMonth, toDay] = split(to)
  return { by: season === null ? 'soil' : 'dates', fromDay, fromMonth, toDay, toMonth }
}

/** Days of each month; 29 February comes round. */
const LONGEST = [31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]

/** The season as the hub takes it, or what cannot be read. It may run over the turn of the year. */
export function seasonOf(draft: SeasonDraft): {
  readonly season: PlanningSettingsView['season']
  readonly errors: Errors
} {
  if (draft.by === 'soil') return { season: null, errors: [] }
  const errors: Errors = []
  const read = (path: 'from' | 'to', month: string, text: string): string => {
    const most = LONGEST[Number(month) - 1] ?? 0
    const day = /^\d{1,2}$/.test(text.trim()) ? Number(text) : 0
    if (day < 1 || day > most) {
      errors.push({
        path,
        message:
          text.trim() === ''
            ? say`expected a day from 1 to ${most}, got nothing`
            : say`expected a day from 1 to ${most}, got '${text.trim()}'`,
      })
    }
    return `${month}-${String(day).padStart(2, '0')}`
  }
  const season = {
    from: read('from', draft.fromMonth, draft.fromDay),
    to: read('to', draft.toMonth, draft.toDay),
  }
  return { season, errors }
}
