import { CAUSES, type Cause } from '#hub/analysis/watch/event.ts'
import { EXTRA_KINDS, type EventKind } from '#hub/simulator/bed-events.ts'
import type { BedOutcome, Happened, Told } from './bed-outcome.ts'
import { quantileOf, shareOf } from './quantiles.ts'
import { atLeast, atMost, type Bound, type ScoreRow } from './score-row.ts'

/** The cause that is right for what happened; none where no cause fits and the row only reports. */
export const RIGHT_CAUSE: Readonly<Partial<Record<EventKind, Cause>>> = {
  soil: 'soil',
  probe: 'probe',
  service: 'service',
  water: 'water',
  ramp: 'soil',
  treatment: 'treatment',
  'hard water': 'water',
  'cold water': 'water',
  'creeping death': 'probe',
  'battery sag': 'probe',
}

/** Rows of truth against columns of what was told; `missed` and `dry contact` included. */
export interface Confusion {
  readonly truth: readonly string[]
  readonly counts: ReadonlyMap<string, ReadonlyMap<string, number>>
}

export function confusion(outcomes: readonly BedOutcome[]): Confusion {
  const counts = new Map<string, Map<string, number>>()
  const add = (truth: string, told: string): void => {
    const row = counts.get(truth) ?? new Map<string, number>()
    row.set(told, (row.get(told) ?? 0) + 1)
    counts.set(truth, row)
  }
  for (const { happened, inDry, unmatched, afterVisit } of outcomes) {
    for (const { kind, told } of happened) add(kind, told?.cause ?? 'missed')
    for (const { cause } of inDry) add('dry spell', cause)
    for (const { cause, aftermath } of unmatched) add(aftermath ? 'aftermath' : 'nothing', cause)
    for (let i = 0; i < afterVisit; i++) add('routine visit', 'service')
  }
  return { truth: [...counts.keys()], counts }
}

export function printConfusion(title: string, table: Confusion): string {
  const columns = [...CAUSES, 'missed']
  const wide = 15
  const lines = [
    title,
    ['', ...columns].map((word) => word.padStart(wide)).join(''),
    ...table.truth.map((truth) =>
      [truth, ...columns.map((told) => String(table.counts.get(truth)?.get(told) ?? 0))]
        .map((word) => word.padStart(wide))
        .join(''),
    ),
  ]
  return lines.join('\n')
}

const yearsOf = (outcomes: readonly BedOutcome[]): number =>
  outcomes.reduce((sum, { years }) => sum + years, 0)

const isActionable = ({ cause }: Told): boolean =>
  cause === 'soil' || cause === 'probe' || cause === 'treatment'

interface Limits {
  readonly must: Bound
  readonly stretch: Bound
}
const limits = (must: Bound, stretch: Bound): Limits => ({ must, stretch })

/** Recall and precision of each cause; whatever was told with nothing behind it counts against precision. */
const BY_CAUSE: readonly {
  readonly cause: Cause
  readonly recall: Limits
  readonly precision: Limits
}[] = [
  {
    cause: 'soil',
    recall: limits(atLeast(0.82), atLeast(0.93)),
    precision: limits(atLeast(0.89), atLeast(0.96)),
  },
  {
    cause: 'probe',
    recall: limits(atLeast(0.85), atLeast(0.95)),
    precision: limits(atLeast(0.73), atLeast(0.9)),
  },
  {
    cause: 'service',
    recall: limits(atLeast(0.9), atLeast(0.97)),
    precision: limits(atLeast(0.94), atLeast(0.98)),
  },
  {
    cause: 'water',
    recall: limits(atLeast(0.87), atLeast(0.94)),
    precision: limits(atLeast(0.81), atLeast(0.92)),
  },
]

function recall(outcomes: readonly BedOutcome[], cause: Cause): { value: number; cases: number } {
  const cases =
    cause === 'dry contact'
      ? outcomes.flatMap(({ inDry }) => inDry.map((told) => told.cause === cause))
      : outcomes.flatMap(({ happened }) =>
          happened.filter(({ kind }) => kind === cause).map(({ told }) => told?.cause === cause),
        )
  return { value: shareOf(cases), cases: cases.length }
}

function precision(
  outcomes: readonly BedOutcome[],
  cause: Cause,
): { value: number; cases: number } {
  const right: boolean[] = []
  for (const { happened, inDry, unmatched } of outcomes) {
    for (const { kind, told } of happened) {
      if (told?.cause === cause) right.push(RIGHT_CAUSE[kind] === cause)
    }
    for (const told of inDry) if (told.cause === cause) right.push(cause === 'dry contact')
    for (const told of unmatched) if (told.cause === cause) right.push(false)
  }
  return { value: shareOf(right), cases: right.length }
}

/** The rows of the watch over the hours: beds with the usual events, and quiet beds. */
export function watchRows(
  eventful: readonly BedOutcome[],
  quiet: readonly BedOutcome[],
): readonly ScoreRow[] {
  const several = eventful.filter(({ spots }) => spots > 1)
  const severalQuiet = quiet.filter(({ spots }) => spots > 1)
  const single = [...eventful, ...quiet].filter(({ spots }) => spots === 1)
  const rows: ScoreRow[] = []
  const row = (
    name: string,
    { value, cases }: { value: number; cases: number },
    bounds: Limits | null = null,
  ): void => {
    rows.push({ name, value, cases, must: bounds?.must ?? null, stretch: bounds?.stretch ?? null })
  }

  const shifts = several.flatMap(({ happened }) =>
    happened.filter(({ kind }) => kind === 'soil' || kind === 'probe'),
  )
  const delays = (large: boolean): number[] =>
    shifts.flatMap(({ told, delayH, sizePh }) =>
      told !== null && Math.abs(sizePh) >= 1 === large ? [delayH] : [],
    )
  const from1 = delays(true)
  const below1 = delays(false)
  const quantile = (values: readonly number[], p: number): { value: number; cases: number } => ({
    value: quantileOf(values, p),
    cases: values.length,
  })
  row('delay from 1 pH, median, h', quantile(from1, 0.5), limits(atMost(3), atMost(2)))
  row('delay from 1 pH, 90 %, h', quantile(from1, 0.9), limits(atMost(6), atMost(4)))
  row('delay .5 to 1 pH, median, h', quantile(below1, 0.5), limits(atMost(6), atMost(4)))
  row('delay .5 to 1 pH, 90 %, h', quantile(below1, 0.9), limits(atMost(12), atMost(9)))
  row(
    'missed soil and probe shifts',
    { value: shareOf(shifts.map(({ told }) => told === null)), cases: shifts.length },
    limits(atMost(0.05), atMost(0.02)),
  )

  const quietYears = yearsOf(severalQuiet)
  const falsely = severalQuiet.flatMap(({ unmatched }) => unmatched.filter(isActionable))
  const perYear = (least: number): { value: number; cases: number } => ({
    value: falsely.filter(({ sizePh }) => Math.abs(sizePh) >= least).length / quietYears,
    cases: Math.round(quietYears),
  })
  row('false labels per quiet bed-year', perYear(0), limits(atMost(0.4), atMost(0.1)))
  row('  of at least .5 pH', perYear(0.5), limits(atMost(0.1), atMost(0.03)))
  row('  of at least 1 pH', perYear(1), limits(atMost(0.04), atMost(0.01)))

  for (const { cause, ...bounds } of BY_CAUSE) {
    row(`${cause}: recall`, recall(several, cause), bounds.recall)
    row(`${cause}: precision`, precision(several, cause), bounds.precision)
  }
  const dry = 'dry contact'
  row(`${dry}: recall`, recall(several, dry), limits(atLeast(0.7), atLeast(0.9)))
  row(`${dry}: precision`, precision(several, dry), limits(atLeast(0.55), atLeast(0.85)))
  row(`${dry}, quiet: recall`, recall(severalQuiet, dry), limits(atLeast(0.78), atLeast(0.95)))
  row(
    `${dry}, quiet: precision`,
    precision(severalQuiet, dry),
    limits(atLeast(0.95), atLeast(0.98)),
  )

  const answered = several.flatMap(({ happened }) => happened.filter(isAnswered))
  row(
    'cause right at once',
    {
      value: shareOf(answered.map(({ kind, told }) => RIGHT_CAUSE[kind] === told.firstCause)),
      cases: answered.length,
    },
    limits(atLeast(0.87), atLeast(0.95)),
  )
  const alone = single.flatMap(({ happened, inDry, unmatched }) => [
    ...happened.flatMap(({ told }) => (told === null ? [] : [told])),
    ...inDry,
    ...unmatched,
  ])
  row(
    'one spot: told as soil or probe',
    { value: alone.filter(isActionable).length, cases: alone.length },
    limits(atMost(0), atMost(0)),
  )
  const errors = answered.flatMap(({ kind, told, sizePh }) =>
    (kind === 'soil' || kind === 'probe') && told.cause === kind
      ? [Math.abs(told.sizePh - sizePh)]
      : [],
  )
  row('size error, median, pH', quantile(errors, 0.5), limits(atMost(0.1), atMost(0.06)))
  row('size error, 90 %, pH', quantile(errors, 0.9), limits(atMost(0.27), atMost(0.18)))

  const unmatched = (outcomes: readonly BedOutcome[], only: (told: Told) => boolean): number =>
    outcomes.reduce((sum, bed) => sum + bed.unmatched.filter(only).length, 0) / yearsOf(outcomes)
  const reported = (outcomes: readonly BedOutcome[], value: number) => ({
    value,
    cases: Math.round(yearsOf(outcomes)),
  })
  row(
    'unconfirmed per quiet bed-year',
    reported(
      severalQuiet,
      unmatched(severalQuiet, ({ cause }) => cause === 'unconfirmed'),
    ),
  )
  row(
    'water per quiet bed-year',
    reported(
      severalQuiet,
      unmatched(severalQuiet, ({ cause }) => cause === 'water'),
    ),
  )
  row(
    'aftermath labels per eventful bed-year',
    reported(
      several,
      several.reduce((sum, bed) => sum + countAftermath(bed), 0) / yearsOf(several),
    ),
  )
  const total = (count: (bed: BedOutcome) => number): number =>
    several.reduce((sum, bed) => sum + count(bed), 0)
  const cold = total(({ inCold }) => inCold)
  row('begun in soil too cold to read, not judged', {
    value: cold / (cold + total(({ happened }) => happened.length)),
    cases: cold,
  })
  row(
    'slow changes the soil did make, per eventful bed-year',
    reported(several, total(({ trueRamps }) => trueRamps) / yearsOf(several)),
  )
  const ends = several.flatMap(({ happened }) =>
    happened.filter(isAnswered).map(({ kind, told }) => RIGHT_CAUSE[kind] === told.lastCause),
  )
  row('cause right at the end of the record', { value: shareOf(ends), cases: ends.length })
  return rows
}

const countAftermath = ({ unmatched }: BedOutcome): number =>
  unmatched.filter((told) => told.aftermath && isActionable(told)).length

function isAnswered(one: Happened): one is Happened & { readonly told: Told } {
  return one.told !== null
}

/** What became of the rarer events: no target was set for them, they are reported. */
export function furtherRows(outcomes: readonly BedOutcome[]): readonly ScoreRow[] {
  const rows: ScoreRow[] = []
  for (const kind of EXTRA_KINDS) {
    const all = outcomes.flatMap(({ happened }) => happened.filter((one) => one.kind === kind))
    const report = (what: string, value: number, cases = all.length): void => {
      rows.push({ name: `${kind}: ${what}`, value, cases, must: null, stretch: null })
    }
    const told = all.filter(isAnswered)
    report('told', shareOf(all.map(({ told: one }) => one !== null)))
    report(
      'delay, median, d',
      quantileOf(
        told.map(({ delayH }) => delayH / 24),
        0.5,
      ),
      told.length,
    )
    const right = RIGHT_CAUSE[kind]
    if (right !== undefined) {
      report(`told as ${right}`, shareOf(told.map((one) => one.told.cause === right)), told.length)
    } else {
      report('told as soil', shareOf(told.map((one) => one.told.cause === 'soil')), told.length)
    }
  }
  return rows
}

/** Quiet beds whose probes show tenths only. */
export function coarseRows(outcomes: readonly BedOutcome[]): readonly ScoreRow[] {
  const years = yearsOf(outcomes)
  const falsely = outcomes.flatMap(({ unmatched }) => unmatched.filter(isActionable))
  return [
    {
      name: 'probes that show tenths: false labels per quiet bed-year',
      value: falsely.length / years,
      cases: Math.round(years),
      must: null,
      stretch: null,
    },
  ]
}
