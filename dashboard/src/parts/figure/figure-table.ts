/** One column of the table behind a chart. */
export interface FigureColumn {
  readonly head: string
  /** As it stands in the table. */
  readonly shown: (row: number) => string
}
/** One column of the table as a file. */
export interface FigureField {
  readonly head: string
  /** A number rounded as it is shown; null where nothing is known. */
  readonly value: (row: number) => number | string | null
}

/** The numbers behind a chart: of the stretch that is shown, every row that is drawn, newest first. */
export interface FigureTable {
  readonly caption: string
  /** Rows are days, not moments. @default false */
  readonly days?: boolean
  /** Epoch ms of each row, in the order of the table. */
  readonly times: readonly number[]
  readonly columns: readonly FigureColumn[]
  readonly fields: readonly FigureField[]
}

/** Rounded as it is shown. */
export function rounded(value: number | null | undefined, decimals: number): number | null {
  return typeof value === 'number' && Number.isFinite(value)
    ? Number(value.toFixed(decimals))
    : null
}

/** Rows of a table from columns of a chart: those of the range in which something is known, newest first. */
export function rowsShown(
  time: readonly number[],
  columns: readonly (readonly (number | null | undefined)[])[],
  { from, to }: { readonly from: number; readonly to: number },
): number[] {
  return time
    .flatMap((at, i) =>
      at >= from && at <= to && columns.some((column) => typeof column[i] === 'number') ? [i] : [],
    )
    .toReversed()
}

type Value = number | null | undefined

/** A column of a small chart: one value, or an interval, of each row of the chart. */
export interface ChartColumn {
  readonly head: string
  readonly shown: (i: number) => string
  readonly files: readonly { readonly head: string; readonly value: (i: number) => Value }[]
}

/** The table of a chart from its own rows: all in which something is known, newest first. */
export function tableOf(options: {
  readonly caption: string
  readonly time: readonly number[]
  readonly known: readonly (readonly Value[])[]
  readonly columns: readonly ChartColumn[]
  readonly decimals: number
  /** Rows are days, not moments. @default false */
  readonly days?: boolean
}): FigureTable {
  const { time, columns, decimals } = options
  const rows = rowsShown(time, options.known, { from: -Infinity, to: Infinity })
  const place = (row: number): number => rows[row] ?? -1
  return {
    caption: options.caption,
    days: options.days === true,
    times: rows.map((i) => time[i] ?? 0),
    columns: columns.map(({ head, shown }) => ({ head, shown: (row) => shown(place(row)) })),
    fields: columns.flatMap(({ files }) =>
      files.map(({ head, value }) => ({
        head,
        value: (row: number) => rounded(value(place(row)), decimals),
      })),
    ),
  }
}
