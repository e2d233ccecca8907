import type { Alarm, AlarmChange } from '../../hub/api/schemas/alarm.ts'
import { causeNamed } from './change-words.ts'
import { dateTime, num, span, type Units } from './format.ts'
import { said, say, toSay } from './say.ts'

const HOUR = 3_600_000
const DAY = 24 * HOUR

type Figure = Alarm['evidence']['figures'][number]
interface Where {
  readonly zone: string
  readonly units: Units
}

export const PRIORITY_WORDS: Readonly<Record<Alarm['priority'], string>> = {
  high: toSay('act today'),
  medium: toSay('act within days'),
  low: toSay('when next at the bed'),
}

export const CHANGE_WORDS: Readonly<Record<AlarmChange['what'], string>> = {
  raised: toSay('Raised'),
  changed: toSay('Changed'),
  acknowledged: toSay('Acknowledged'),
  returned: toSay('Back to normal'),
  closed: toSay('Closed'),
  shelved: toSay('Shelved'),
  unshelved: toSay('Back from the shelf'),
  noted: toSay('Note'),
}

export const HUB_PART_WORDS: Readonly<Record<string, string>> = {
  disk: toSay('Disk'),
  store: toSay('Store'),
  broker: toSay('Broker'),
  delivery: toSay('Delivery of messages'),
}

const FIGURE_WORDS: Readonly<Record<Figure['what'], string>> = {
  level: toSay('Level of the last day'),
  'band-low': toSay('Lower edge of the band'),
  'band-high': toSay('Upper edge of the band'),
  chance: toSay('Chance to be outside in 90 days'),
  'leaves-at': toSay('Leaves its band about'),
  supply: toSay('Supply'),
  'supply-limit': toSay('Low below'),
  interval: toSay('Measures every'),
  'awaited-at': toSay('Was awaited'),
  'calibrated-at': toSay('Last in buffers'),
  'due-at': toSay('Was due'),
  free: toSay('Free space'),
  'full-at': toSay('Full about'),
}

function figureText({ value, halfWidth, unit }: Figure, where: Where): string {
  const { units } = where
  const doubt = (decimals: number): string =>
    halfWidth === null ? '' : say` ± ${num(halfWidth, decimals, units)} (95 % interval)`
  switch (unit) {
    case 'pH':
      return `${num(value, 2, units)}${doubt(2)}`
    case '1':
      return `${num(100 * value, 0, units)} %`
    case 'V':
      return `${num(value, 2, units)} V`
    case '%':
      return `${num(value, 0, units)} %`
    case 'bytes':
      return `${num(value / 1e9, 1, units)} GB`
    case 'ms':
      return span(value / 1000)
    case 'at':
      return dateTime(value, where)
  }
}

/** What an alarm rests on, as names and values, in the order they are read. */
export function evidenceRows(alarm: Alarm, where: Where): readonly [string, string][] {
  const { evidence: e } = alarm
  const { units } = where
  const n = (x: number, decimals = 2): string => num(x, decimals, units)
  const rows: [string, string][] = []
  if (e.from !== null && e.to !== null)
    rows.push([say`pH`, say`${n(e.from)} before, ${n(e.to)} now`])
  if (e.change !== null) {
    const size = `${e.change > 0 ? '+' : ''}${n(e.change)}`
    rows.push([
      say`Change of pH`,
      e.changeHalfWidth === null ? size : say`${size} ± ${n(e.changeHalfWidth)} (90 % interval)`,
    ])
  }
  for (const figure of e.figures) {
    rows.push([said(FIGURE_WORDS[figure.what]), figureText(figure, where)])
  }
  if (e.since !== null) rows.push([say`Began`, dateTime(e.since, where)])
  if (e.spotsMoved.length > 0) {
    const about = e.change === null ? say`Spots` : say`Spots that moved`
    rows.push([about, e.spotsMoved.join(', ')])
  }
  if (e.spotsSteady.length > 0) rows.push([say`Spots that did not`, e.spotsSteady.join(', ')])
  if (e.cause !== null) {
    const cause = causeNamed(e.cause)
    rows.push([say`Most likely`, e.causeSettled === false ? say`${cause} (provisional)` : cause])
  }
  if (e.sureness !== null) rows.push([say`How sure`, `${n(e.sureness * 100, 0)} %`])
  rows.push([say`Raised`, dateTime(alarm.raisedAt, where)])
  if (alarm.acknowledgedAt !== null) {
    rows.push([say`Acknowledged`, dateTime(alarm.acknowledgedAt, where)])
  }
  if (alarm.returnedAt !== null) {
    rows.push([say`Back to normal`, dateTime(alarm.returnedAt, where)])
  }
  return rows
}

/** Somebody should still acknowledge it. */
export const waits = (alarm: Pick<Alarm, 'state'>): boolean =>
  alarm.state === 'unacknowledged' || alarm.state === 'returned'

export const isShelved = (alarm: Pick<Alarm, 'shelvedUntil'>): boolean =>
  alarm.shelvedUntil !== null

export interface AlarmGroup {
  /** Null: about the hub, or a probe in no bed. */
  readonly bedId: number | null
  readonly bed: string | null
  readonly alarms: readonly Alarm[]
}

const RANK: readonly Alarm['priority'][] = ['high', 'medium', 'low']

/** Open alarms by bed, what is most urgent first; the hub's own before all. */
export function groupByBed(alarms: readonly Alarm[]): readonly AlarmGroup[] {
  const order = (a: Alarm): number => RANK.indexOf(a.priority) + (waits(a) ? 0 : RANK.length)
  const groups = new Map<number | null, Alarm[]>()
  for (const alarm of alarms.toSorted((a, b) => order(a) - order(b) || b.raisedAt - a.raisedAt)) {
    const own = groups.get(alarm.bedId)
    if (own === undefined) groups.set(alarm.bedId, [alarm])
    else own.push(alarm)
  }
  return Array.from(groups, ([bedId, own]) => ({ bedId, bed: own[0]!.bed, alarms: own })).toSorted(
    (a, b) => Number(a.bedId !== null) - Number(b.bedId !== null),
  )
}

/** How long an alarm may be put on the shelf with one press, ms. */
export const SHELF_TIMES = [
  { value: 'hour', ms: HOUR, words: toSay('1 hour') },
  { value: 'evening', ms: 8 * HOUR, words: toSay('8 hours') },
  { value: 'day', ms: DAY, words: toSay('1 day') },
  { value: 'week', ms: 7 * DAY, words: toSay('1 week') },
] as const
