import { DAY } from '#hub/model/clock.ts'
import type { BedOutcome, Told } from './bed-outcome.ts'
import { type Bound, markOf, type ScoreRow } from './score-row.ts'
import { RIGHT_CAUSE } from './watch-rows.ts'

function boundText(bound: Bound | null): string {
  if (bound === null) return ''
  const { atLeast, atMost } = bound
  if (atLeast !== undefined && atMost !== undefined) return `${atLeast} to ${atMost}`
  return atLeast === undefined ? `<= ${atMost}` : `>= ${atLeast}`
}

/** The score as one table. */
export function printTable(rows: readonly ScoreRow[]): string {
  const cells = rows.map((row) => [
    row.name,
    Number.isNaN(row.value) ? '-' : row.value.toFixed(3),
    String(row.cases),
    boundText(row.must),
    boundText(row.stretch),
    markOf(row),
  ])
  const all = [['quantity', 'value', 'cases', 'must', 'stretch', 'mark'], ...cells]
  const wide = all[0]!.map((_, column) => Math.max(...all.map((line) => line[column]!.length)))
  return all
    .map((line) =>
      line
        .map((word, column) =>
          column === 1 || column === 2 ? word.padStart(wide[column]!) : word.padEnd(wide[column]!),
        )
        .join('  ')
        .trimEnd(),
    )
    .join('\n')
}

const number = (value: number): string => (Number.isNaN(value) ? '?' : value.toFixed(2))

function toldText(startMs: number, told: Told): string {
  const { evidence, form, cause, firstCause, lastCause, sizePh, seenAt, onset, moved } = told
  const service =
    evidence.serviceAt === null
      ? 'none'
      : `day ${number((evidence.serviceAt - startMs) / DAY)}${evidence.serviceLogged ? '' : ' (seen)'}`
  return [
    `${form} ${firstCause} -> ${cause} -> ${lastCause}`,
    `size ${number(sizePh)}`,
    `onset day ${number((onset - startMs) / DAY)}`,
    `told day ${number((seenAt - startMs) / DAY)}`,
    `spots ${moved.join(',') || 'none'}`,
    `available ${number(evidence.leastAvailable)}`,
    `wetting ${number(evidence.wetting)}`,
    `warming ${number(evidence.warming)}`,
    `service ${service}`,
  ].join(', ')
}

/** One line for everything that was missed, misnamed, or told with nothing behind it. */
export function listWrong(outcomes: readonly BedOutcome[]): string {
  const lines: string[] = []
  for (const { seed, spots, startMs, happened, inDry, unmatched } of outcomes) {
    const bed = `seed ${seed}, ${spots} spots`
    const day = (at: number): string => number((at - startMs) / DAY)
    for (const { kind, onset, sizePh, spot, told, delayH } of happened) {
      const right = RIGHT_CAUSE[kind]
      const truth = `${kind} ${number(sizePh)}${spot === null ? '' : ` on ${spot}`} day ${day(onset)}`
      if (told === null) lines.push(`${bed}: MISSED ${truth}`)
      else if (told.cause !== right) {
        lines.push(`${bed}: ${truth} after ${number(delayH)} h: ${toldText(startMs, told)}`)
      }
    }
    for (const told of inDry) {
      if (told.cause !== 'dry contact') lines.push(`${bed}: dry spell: ${toldText(startMs, told)}`)
    }
    for (const told of unmatched) {
      const why = told.aftermath ? 'aftermath' : 'nothing'
      lines.push(`${bed}: ${why}: ${toldText(startMs, told)}`)
    }
  }
  return lines.join('\n')
}
