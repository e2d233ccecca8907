import { fork } from 'node:child_process'
import { once } from 'node:events'
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { parseArgs } from 'node:util'
import { thisMachine } from './machine.ts'
import { PARTS } from './parts.ts'
import { figures, resultsText, type Measured } from './results.ts'
import { verdict, type BenchRow } from './row.ts'

/*
 * Speed, size and memory, measured in one run and held against the targets. Run by hand with `npm run bench`;
 * nothing here is a test, and nothing in the tests asserts a time. `--part views` (several times, if you like)
 * measures a part and writes nothing.
 */

const HERE = import.meta.dirname
const { values } = parseArgs({ options: { part: { type: 'string', multiple: true } } })
const wanted = values.part ?? Object.keys(PARTS)
const unknown = wanted.find((name) => !(name in PARTS))
if (unknown !== undefined) {
  console.error(`--part: expected ${Object.keys(PARTS).join(', ')}, got '${unknown}'`)
  process.exit(2)
}

async function run(part: string): Promise<readonly BenchRow[]> {
  const child = fork(join(HERE, 'run-part.ts'), [part], { execArgv: ['--expose-gc'] })
  const rows: BenchRow[] = []
  child.on('message', (some) => rows.push(...(some as BenchRow[])))
  const [code] = (await once(child, 'close')) as [number | null]
  if (code !== 0) throw new Error(`the part '${part}' of the bench ended with ${code}`)
  return rows
}

const startedAt = Date.now()
const machine = thisMachine()
console.log(`${machine.join('\n')}\n`)
const measured: Measured[] = []
const broken: string[] = []
for (const part of wanted) {
  console.log(`-- ${part}`)
  try {
    const rows = await run(part)
    measured.push({ part, rows })
    for (const row of rows) {
      console.log(`${row.what.padEnd(76)} ${figures(row, row.value).padStart(14)}  ${verdict(row)}`)
    }
  } catch (error) {
    // The others are measured all the same; the page says what is missing.
    broken.push((error as Error).message)
    console.error((error as Error).message)
  }
}
const all = measured.flatMap(({ rows }) => rows)
const count = (what: string): number => all.filter((row) => verdict(row) === what).length
console.log(
  `\n${all.length} rows: ${count('stretch met')} reach the stretch, ${count('met')} meet the target, ` +
    `${count('not met')} do not, ${count('for the record')} are for the record`,
)
if (broken.length > 0) process.exitCode = 1
if (values.part === undefined) {
  const file = join(HERE, 'RESULTS.md')
  writeFileSync(file, resultsText(measured, { machine, startedAt, endedAt: Date.now(), broken }))
  console.log(`written to ${file}`)
}
