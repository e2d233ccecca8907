import type { Alarm } from '../../../hub/api/schemas/alarm.ts'
import type { Garden } from '../../../hub/api/schemas/garden.ts'
import type { Entry } from '../../../hub/api/schemas/journal.ts'
import type { Quantity } from '../../../hub/model/quantity.ts'
import type { ChartMark } from '../chart/chart-keys.tsx'
import type { EventMark } from '../chart/paint-findings.ts'
import type { Range } from '../chart/range.ts'
import { signed } from '../doubt.ts'
import { entryWords } from '../entry-words.ts'
import { ALARM_CHARTS, ALARM_WORDS, dateOnly, dateTime, JOURNAL_WORDS } from '../format.ts'
import { withUnit } from '../quantity.ts'
import { said, say } from '../say.ts'
import { rounded, rowsShown } from './figure/figure-table.ts'
import type { FigureTable } from './figure/figure-table.ts'
import type { LegendRow } from './figure/picture.ts'
import type { Charted } from './readout.tsx'

type Marks = Readonly<Record<Quantity, readonly ChartMark[]>>

/** The signs of a bed's charts, to be read one by one. */
export function bedMarks(
  {
    journal,
    alarms,
    events,
  }: {
    readonly journal: readonly Entry[]
    readonly alarms: readonly Alarm[]
    readonly events: readonly EventMark[]
  },
  garden: Garden,
): Marks {
  const written = journal.map((entry): ChartMark => ({
    id: `entry ${entry.id}`,
    at: entry.at,
    edge: 'foot',
    words: say`${said(JOURNAL_WORDS[entry.kind])}, ${dateTime(entry.at, garden)}: ${entryWords(entry, garden.units)}`,
  }))
  const changes = events.map(({ id, onset, size, endedAt }): ChartMark => {
    const change = signed(size, 2, garden.units)
    const day = dateOnly(onset, garden)
    return {
      id: `event ${id}`,
      at: onset,
      edge: 'head',
      words:
        endedAt === null
          ? say`Change of the pH by ${change}, ${day}, still there`
          : say`Change of the pH by ${change}, ${day}, over since ${dateOnly(endedAt, garden)}`,
    }
  })
  const raised = (quantity: Quantity): ChartMark[] =>
    alarms
      .filter(({ kind }) => ALARM_CHARTS[kind] === quantity)
      .map((alarm) => {
        const at = alarm.evidence.since ?? alarm.raisedAt
        return {
          id: `alarm ${alarm.id}`,
          at,
          edge: 'head',
          words: say`Alarm, ${dateTime(at, garden)}: ${said(ALARM_WORDS[alarm.kind])}. ${alarm.sentence}`,
        }
      })
  return {
    ph: [...written, ...changes, ...raised('ph')],
    moisture: raised('moisture'),
    temperature: raised('temperature'),
  }
}

/** The numbers behind a chart of a bed. */
export function bedTable({ columns, as }: Charted, range: Range, garden: Garden): FigureTable {
  const { value, low, high, spots, lowest, highest } = columns
  const rows = rowsShown(
    columns.time,
    [value, ...spots.flatMap(({ counted, leftOut }) => [counted, leftOut])],
    range,
  )
  const write = (x: number | null | undefined): string => withUnit(x, as, garden.units)
  const place = (row: number): number => rows[row] ?? -1
  const unit = as.unit === '' ? '' : ` ${as.unit}`
  const file = (head: string, of: (i: number) => number | null | undefined) => ({
    head: `${head}${unit}`,
    value: (row: number) => rounded(of(place(row)), as.decimals),
  })
  const hasExtremes = rows.some((i) => typeof lowest[i] === 'number')
  return {
    caption: say`${as.words}, newest first`,
    times: rows.map((i) => columns.time[i] ?? 0),
    columns: [
      { head: say`Bed`, shown: (row) => write(value[place(row)]) },
      {
        head: say`95 % interval`,
        shown: (row) => say`${write(low[place(row)])} to ${write(high[place(row)])}`,
      },
      ...(hasExtremes
        ? [
            {
              head: say`Lowest and highest reading`,
              shown: (row: number) =>
                typeof lowest[place(row)] === 'number'
                  ? say`${write(lowest[place(row)])} to ${write(highest[place(row)])}`
                  : '–',
            },
          ]
        : []),
      ...spots.map(({ spot, counted, leftOut }) => ({
        head: spot,
        shown: (row: number) => {
          const i = place(row)
          if (typeof counted[i] === 'number') return write(counted[i])
          return typeof leftOut[i] === 'number' ? say`${write(leftOut[i])} (left out)` : '–'
        },
      })),
    ],
    fields: [
      file(as.words, (i) => value[i]),
      file(say`95 % interval from`, (i) => low[i]),
      file(say`95 % interval to`, (i) => high[i]),
      ...(hasExtremes
        ? [
            file(say`lowest reading`, (i) => lowest[i]),
            file(say`highest reading`, (i) => highest[i]),
          ]
        : []),
      ...spots.flatMap(({ spot, counted, leftOut }) => [
        file(spot, (i) => counted[i] ?? leftOut[i]),
        {
          head: say`${spot}: left out`,
          value: (row: number) =>
            typeof counted[place(row)] !== 'number' && typeof leftOut[place(row)] === 'number'
              ? say`left out`
              : null,
        },
      ]),
    ],
  }
}

/** What the signs of a bed's chart mean, for its picture. */
export function bedLegend(
  quantity: Quantity,
  { columns }: Charted,
  {
    readings,
    ahead,
    damaged,
  }: { readonly readings: boolean; readonly ahead: boolean; readonly damaged: boolean },
): readonly LegendRow[] {
  return [
    { sign: 'line', words: say`the bed` },
    { sign: 'shade', words: say`its 95 % interval` },
    ...(quantity === 'ph'
      ? ([
          { sign: 'band', words: say`crop band` },
          { sign: 'stair', words: say`change` },
          { sign: '▲', words: say`treatment` },
          { sign: '●', words: say`watering` },
          { sign: '◆', words: say`probe service` },
          { sign: '✚', words: say`sample` },
          { sign: '■', words: say`note` },
        ] as const)
      : []),
    { sign: '⚑', words: say`alarm` },
    ...(columns.spots.length > 0 ? ([{ sign: 'broken', words: say`each spot` }] as const) : []),
    ...(readings ? ([{ sign: 'dots', words: say`single readings` }] as const) : []),
    ...(ahead ? ([{ sign: 'broken', words: say`what may come` }] as const) : []),
    ...(damaged ? ([{ sign: 'hatch', words: say`missing, damaged on the disk` }] as const) : []),
  ]
}
