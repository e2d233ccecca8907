import { afterAll, beforeAll, expect, test } from 'vitest'
import { checkProbe } from '#hub/conformance/check-probe.ts'
import type { Report } from '#hub/conformance/report.ts'
import { startBroker, type TestBroker } from '../../support/broker.ts'
import { startSmallProbe, type Mistake } from '../../support/small-probe.ts'
import { BRISK, IN_A_HURRY } from './pace.ts'

let broker: TestBroker
beforeAll(async () => {
  broker = await startBroker()
})
afterAll(() => broker.close())

let ids = 0

async function check(mistake: Mistake | null): Promise<Report> {
  const id = `small${++ids}`
  const running = await checkProbe({
    probe: id,
    listen: { host: '127.0.0.1', port: 0 },
    broker: { host: '127.0.0.1', port: broker.port },
    clock: Date.now,
    plan: IN_A_HURRY,
    terms: BRISK,
  })
  const probe = startSmallProbe({ port: running.port, id, mistake })
  try {
    return await running.done
  } finally {
    probe.stop()
  }
}

const notMet = (report: Report): readonly string[] =>
  report.requirements.flatMap(({ id, verdict, told }) =>
    verdict === 'not met' ? [`${id}: ${told}`] : [],
  )

const mistakes: readonly (readonly [Mistake, string])[] = [
  ['retains readings', 'LM-09'],
  ['leaves no will', 'LM-05'],
  ['leaves the will of another boot', 'LM-05'],
  ['sends a reading before it says on', 'LM-06'],
  ['writes nan', 'LM-10'],
  ['skips numbers', 'LM-11'],
  ['counts down', 'LM-11'],
  ['lets its seconds fall', 'LM-13'],
  ['uses a number twice', 'LM-12'],
  ['fills batches beyond the limit', 'LM-03'],
  ['sends late readings as fresh ones', 'LM-15'],
  ['believes every acknowledgement', 'LM-25'],
  ['listens to other probes', 'LM-30'],
  ['sends batches newest first', 'LM-24'],
  ['connects again at once', 'LM-22'],
  ['takes any settings', 'LM-28'],
  ['repeats commands', 'LM-29'],
  ['has another client id', 'LM-02'],
  ['writes at another topic', 'LM-30'],
  ['tells its password', 'LM-33'],
  ['sends a channel it does not list', 'LM-08'],
  ['names an unknown unit', 'LM-08'],
  ['sends -127 for a failed thermometer', 'LM-16'],
  ['dies of a large packet', 'LM-04'],
  ['dies of broken text', 'LM-35'],
  ['does not notice a dead link', 'LM-21'],
  ['sends pH alone', 'LM-17'],
  ['forgets what it measured offline', 'LM-23'],
  ['sends again without pause', 'LM-26'],
  ['sends no birth after hello', 'LM-07'],
  ['has a clock that was never set', 'LM-14'],
]

/** So many are checked at a time: most of a check is waiting. */
const AT_A_TIME = 8
const reports = new Map<Mistake | null, Report>()

beforeAll(async () => {
  const left: (Mistake | null)[] = [null, ...mistakes.map(([mistake]) => mistake)]
  const work = async (): Promise<void> => {
    for (let next = left.shift(); next !== undefined; next = left.shift())
      reports.set(next, await check(next))
  }
  await Promise.all(Array.from({ length: AT_A_TIME }, work))
}, 180_000)

/** The report; at a second try a new one of a probe that has the machine to itself. */
const tried = new Set<Mistake | null>()
async function reportOf(mistake: Mistake | null): Promise<Report> {
  if (tried.has(mistake)) return check(mistake)
  tried.add(mistake)
  return reports.get(mistake)!
}

test('a probe that does everything right breaks nothing', { timeout: 60_000 }, async () => {
  const report = await reportOf(null)
  expect(notMet(report)).toEqual([])
  expect(report.passed).toBe(true)
  // What could not be tested, and nothing else.
  expect(
    report.requirements.filter(({ verdict }) => verdict === 'not tested').map(({ id }) => id),
  ).toEqual(expect.arrayContaining(['LM-31', 'LM-32', 'LM-34', 'LM-35']))
  expect(report.counts.met).toBeGreaterThanOrEqual(23)
})

test.for(mistakes)(
  'a probe that %s breaks %s and nothing else',
  { timeout: 60_000 },
  async ([mistake, requirement]) => {
    const report = await reportOf(mistake)
    const broken = notMet(report)
    expect(
      broken.map((one) => one.slice(0, 5)),
      broken.join('\n'),
    ).toEqual([requirement])
    expect(report.passed).toBe(false)
  },
)
