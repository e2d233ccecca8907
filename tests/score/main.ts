import { parseArgs } from 'node:util'
import type { BedOutcome } from './bed-outcome.ts'
import { SMALL_YEARS, valuesOf, writeBaseline } from './baseline.ts'
import { listWrong, printTable } from './print.ts'
import { score, SCORED, type Scored } from './score.ts'
import { markOf } from './score-row.ts'
import { SEED_SETS, type SeedSet } from './seeds.ts'
import { confusion, printConfusion } from './watch-rows.ts'

const HELP = `Scores the analysis on simulated, labelled gardens.

  node tests/score/main.ts [options]

  --part NAME      only this part, may be given again: ${SCORED.join(', ')}
  --seeds SET      ${Object.keys(SEED_SETS).join(' or ')} (default scoring; tune on tuning only)
  --years N        bed-years for each number of spots (default 40)
  --threads N      threads (default 2)
  --list wrong     every case that was missed, misnamed or told with nothing behind it
  --save           keep what came out as the baseline the tests hold to (all parts, scoring seeds)
  --help
`

const { values } = parseArgs({
  options: {
    part: { type: 'string', multiple: true },
    seeds: { type: 'string', default: 'scoring' },
    years: { type: 'string', default: '40' },
    threads: { type: 'string', default: '2' },
    list: { type: 'string' },
    save: { type: 'boolean', default: false },
    help: { type: 'boolean', default: false },
  },
})

function fail(message: string): never {
  console.error(message)
  process.exit(2)
}

function countOf(name: string, text: string): number {
  const count = Number(text)
  if (!Number.isInteger(count) || count < 0) {
    fail(`--${name} expects a whole number, got '${text}'`)
  }
  return count
}

function partOf(name: string): Scored {
  return (
    SCORED.find((part) => part === name) ??
    fail(`--part expects one of ${SCORED.join(', ')}; got '${name}'`)
  )
}

if (values.help) {
  console.log(HELP)
} else {
  const set = values.seeds
  if (!Object.hasOwn(SEED_SETS, set)) fail(`--seeds expects tuning or scoring, got '${set}'`)
  if (values.save && (set !== 'scoring' || values.part !== undefined)) {
    fail('--save keeps all parts on the scoring seeds; leave out --part and --seeds')
  }
  const started = performance.now()
  const result = await score({
    parts: values.part?.map(partOf) ?? SCORED,
    set: set as SeedSet,
    years: countOf('years', values.years),
    threads: countOf('threads', values.threads),
    onProgress: (done, of) => {
      if (process.stderr.isTTY) process.stderr.write(`\r${done} of ${of} `)
    },
  })
  if (process.stderr.isTTY) process.stderr.write('\r')
  const several = result.eventful.filter(({ spots }) => spots > 1)
  const tables: readonly (readonly [string, readonly BedOutcome[]])[] = [
    ['usual events, 2 to 4 spots', several],
    ['usual events, 1 spot', result.eventful.filter(({ spots }) => spots === 1)],
    ['quiet, 2 to 4 spots', result.quiet.filter(({ spots }) => spots > 1)],
    ['quiet, 1 spot', result.quiet.filter(({ spots }) => spots === 1)],
    ['further events', result.further],
  ]
  for (const [title, outcomes] of tables) {
    if (outcomes.length > 0) console.log(`${printConfusion(title, confusion(outcomes))}\n`)
  }
  if (values.list === 'wrong') {
    console.log(`${listWrong([...several, ...result.quiet, ...result.further])}\n`)
  }
  console.log(printTable(result.rows))
  if (values.save) {
    const small = await score({ parts: SCORED, set: 'scoring', years: SMALL_YEARS, threads: 2 })
    writeBaseline({ full: valuesOf(result.rows), small: valuesOf(small.rows) })
  }
  const missed = result.rows.filter((row) => markOf(row) === 'MISSED').length
  const seconds = ((performance.now() - started) / 1000).toFixed(1)
  console.log(`\n${set} seeds, ${seconds} s; ${missed} of ${result.rows.length} rows missed`)
}
