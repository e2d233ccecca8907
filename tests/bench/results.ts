import { verdict, type BenchRow } from './row.ts'

/** The rows of one part. */
export interface Measured {
  readonly part: string
  readonly rows: readonly BenchRow[]
}

/** As many digits as say something. */
function digits(value: number): string {
  if (!Number.isFinite(value)) return String(value)
  const size = Math.abs(value)
  if (size >= 1000) return Math.round(value).toLocaleString('en-GB')
  return value.toFixed(size >= 100 ? 0 : size >= 10 ? 1 : 2)
}

/** A value of a row with its unit. */
export const figures = ({ unit }: BenchRow, value?: number | null): string => {
  if (value === null) return ''
  return unit === '' ? digits(value ?? NaN) : `${digits(value ?? NaN)} ${unit}`
}

/** Text within a cell of a table. */
const cell = (text: string): string => text.replaceAll('|', '\\|').replaceAll('\n', ' ')

function aim(row: BenchRow, value: number | null | undefined): string {
  if (value === null || value === undefined) return ''
  return `${row.better === 'less' ? '≤' : '≥'} ${figures(row, value)}`
}

/**
 * The page of results.
 *
 * @throws TypeError for two rows of one name, or one that misses its target and does not say why
 */
export function resultsText(
  measured: readonly Measured[],
  run: {
    readonly machine: readonly string[]
    /** Epoch ms. */
    readonly startedAt: number
    readonly endedAt: number
    /** What could not be measured, and why. @default nothing */
    readonly broken?: readonly string[]
  },
): string {
  const rows = measured.flatMap((part) => part.rows)
  const twice = rows.find((row, i) => rows.findIndex(({ what }) => what === row.what) < i)
  if (twice !== undefined) throw new TypeError(`two rows are called '${twice.what}'`)
  const short = rows.filter((row) => verdict(row) === 'not met')
  const mute = short.find(({ missed }) => missed === undefined)
  if (mute !== undefined) throw new TypeError(`'${mute.what}' misses its target and says no why`)

  const table = measured.flatMap(({ part, rows: own }) => [
    `## ${part[0]!.toUpperCase()}${part.slice(1)}`,
    '',
    '| what | value | target | stretch | |',
    '|---|---:|---:|---:|---|',
    ...own.map((row) =>
      [
        '',
        ` ${cell(row.what)} `,
        ` ${figures(row, row.value)} `,
        ` ${aim(row, row.target)} `,
        ` ${aim(row, row.stretch)} `,
        ` ${verdict(row)} `,
        '',
      ].join('|'),
    ),
    '',
  ])
  const minutes = Math.max(1, Math.round((run.endedAt - run.startedAt) / 60_000))
  return [
    '# How fast, how large',
    '',
    'Written by `npm run bench`; do not edit. Everything was measured in one run on one machine, nothing is copied from an ' +
      'earlier one. Ratios stand against something measured in the same run, so that the pace of the machine cancels; ' +
      'milliseconds hold for this machine.',
    '',
    `Run of ${new Date(run.startedAt).toISOString().slice(0, 16).replace('T', ' ')} UTC, ${minutes} min.`,
    '',
    ...run.machine.map((line) => `- ${line}`),
    '',
    ...(run.broken ?? []).map((why) => `Not measured: ${why}.\n`),
    ...table,
    '## Not met',
    '',
    ...(short.length === 0
      ? [
          run.broken === undefined || run.broken.length === 0
            ? 'Every target is met.'
            : 'Every target of what was measured is met.',
        ]
      : short.map(
          (row) =>
            `- **${row.what}**: ${figures(row, row.value)}, target ${aim(row, row.target)}. Why: ${row.missed!.why} Next: ${row.missed!.next}`,
        )),
    '',
    '## How it was measured',
    '',
    ...rows.map((row) => `- **${row.what}**: ${row.how}`),
    '',
  ].join('\n')
}
