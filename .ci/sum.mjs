// Sums up what several runs of the tests reported, and says in its last line 'N passed, N failed'.
//
//   node .ci/sum.mjs FAILED_STEPS RUN...    RUN is name=report.json=exit code of the run
//
// A file that could not be loaded, a test that did not run, a run that ended badly though no test failed, and
// services in containers and as processes that do not have the same tests: each of them counts as a failure.
import { readFileSync } from 'node:fs'

const [failedSteps, ...runs] = process.argv.slice(2)
let passed = 0
let failed = Number(failedSteps)
const names = new Map()

/** The beginning of what each try said: the run's own output is long gone by from the end of a log. */
const reason = (messages) =>
  messages.map((m) => m.slice(0, 1500).trimEnd().replaceAll(/^/gm, '    | ')).join('\n    --\n')

for (const run of runs) {
  const [name, file, code] = run.split('=')
  let report
  try {
    report = JSON.parse(readFileSync(file, 'utf8'))
  } catch (error) {
    console.log(`${name}: left no report (${error.message})`)
    failed += 1
    continue
  }
  const tests = report.testResults.flatMap((f) =>
    f.assertionResults.map((a) => ({
      ...a,
      fullName: `${f.name.replace(`${process.cwd()}/`, '')} > ${a.fullName}`,
    })),
  )
  const broken = report.testResults.filter(
    (f) => f.status === 'failed' && f.assertionResults.every((a) => a.status !== 'failed'),
  )
  const good = tests.filter((t) => t.status === 'passed')
  const bad = tests.filter((t) => t.status === 'failed')
  const silent = tests.filter((t) => t.status !== 'passed' && t.status !== 'failed')
  let wrong = bad.length + broken.length + silent.length
  if (wrong === 0 && (code !== '0' || good.length === 0)) wrong = 1
  console.log(
    `${name}: ${good.length} passed, ${wrong} failed${code === '0' ? '' : ` (ended with ${code})`}`,
  )
  for (const t of bad) console.log(`  failed: ${t.fullName}\n${reason(t.failureMessages)}`)
  for (const f of broken)
    console.log(`  could not be loaded: ${f.name}\n${reason([f.message ?? ''])}`)
  for (const t of silent) console.log(`  did not run: ${t.fullName}`)
  for (const t of good) {
    if (t.failureMessages.length === 0) continue
    console.log(`  needed a second try: ${t.fullName}\n${reason(t.failureMessages)}`)
  }
  passed += good.length
  failed += wrong
  names.set(name, tests.map((t) => t.fullName).sort())
}

const ways = [...names.keys()].filter((name) => name.startsWith('services'))
if (ways.length !== 2) {
  console.log(
    `services: expected a run in containers and one as processes, got ${ways.join(', ') || 'none'}`,
  )
  failed += 1
} else {
  const [one, other] = ways.map((name) => names.get(name))
  const same = one.length === other.length && one.every((name, i) => name === other[i])
  console.log(
    `${ways[0]}: ${one.length} tests, ${ways[1]}: ${other.length} tests, ${same ? 'the same' : 'NOT the same'}`,
  )
  if (!same) failed += 1
}
console.log(`${passed} passed, ${failed} failed`)
process.exit(failed > 0 || passed === 0 ? 1 : 0)
