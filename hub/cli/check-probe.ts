import { writeFileSync } from 'node:fs'
import { parseArgs } from 'node:util'
import { checkProbe } from '../conformance/check-probe.ts'
import { QUICK, THOROUGH, type Plan } from '../conformance/plan.ts'
import { linesOf } from '../conformance/report.ts'
import { HubError } from '../errors.ts'
import { PROBE_ID, RESERVED_IDS } from '../wire/topic.ts'
import { durationOf } from './fleet-faults.ts'
import type { CommandContext } from './main.ts'
import { ownBroker } from './own-broker.ts'
import { oneLine } from './plain-text.ts'

const OPTIONS = {
  listen: { type: 'string' },
  broker: { type: 'string' },
  probe: { type: 'string' },
  quick: { type: 'boolean' },
  outage: { type: 'string' },
  soak: { type: 'string' },
  report: { type: 'string' },
  config: { type: 'string' },
  help: { type: 'boolean', short: 'h' },
} as const

const MOST_OUTAGE = 2000

const HELP = [
  'usage: npm run loamline -- check-probe --probe ID [options]',
  '',
  'Stands between a probe and its broker and tells, requirement by requirement, whether the firmware',
  'keeps to firmware-spec/README.md. Point the probe at this computer and at the port of --listen.',
  '',
  '  --probe ID      the id of the probe',
  '  --listen PORT   where the probe connects, [host:]port; 1884',
  '  --broker URL    where it is passed on to; the broker of the hub with these settings',
  '  --quick         leave out what takes waiting: dead links, long outages, growing pauses',
  '  --outage N      refuse it for N of its intervals; 10, and 2 with --quick. 96 tests LM-23',
  '  --soak TIME     go on with cuts and broken messages for this long; 24h tests LM-35',
  '  --report FILE   write the findings as JSON too',
  '  --config FILE   settings of the hub; else those of the environment',
  '',
  'A hub behind the broker is asked to acknowledge; where none does, the check does it. Ctrl-C ends early.',
  'Ends with 0 when nothing is not met, 1 when something is, 2 when the check could not be made.',
].join('\n')

interface Asked {
  readonly probe: string
  readonly listen: { readonly host: string; readonly port: number }
  readonly broker: { readonly host: string; readonly port: number }
  readonly plan: Plan
  readonly report: string | null
}

/** Checks one probe against the firmware specification. */
export async function checkProbeCommand(context: CommandContext): Promise<void> {
  const asked = read(context)
  if (asked === null) {
    console.log(HELP)
    return
  }
  const told = new Set<string>()
  const check = await checkProbe({
    ...asked,
    clock: Date.now,
    onStep: (text) => console.error(`… ${text}`),
    onTrouble: ({ message }) => {
      if (told.has(message)) return
      told.add(message)
      console.error(`the broker: ${oneLine(message)}`)
    },
  })
  console.error(`Point ${asked.probe} at port ${check.port} of this computer. Ctrl-C ends early.`)
  const stop = (): void => check.stop()
  process.once('SIGINT', stop)
  process.once('SIGTERM', stop)
  const report = await check.done
  for (const line of linesOf(report)) console.log(oneLine(line))
  if (asked.report !== null) writeFileSync(asked.report, `${JSON.stringify(report, null, 2)}\n`)
  process.exitCode = report.passed ? 0 : report.counts['not met'] > 0 ? 1 : 2
}

/** Null when only help was asked for. */
function read(context: CommandContext): Asked | null {
  let values
  try {
    values = parseArgs({ args: [...context.args], options: OPTIONS }).values
  } catch (error) {
    throw wrong((error as Error).message)
  }
  if (values.help === true) return null
  const { probe } = values
  if (probe === undefined || !PROBE_ID.test(probe) || RESERVED_IDS.includes(probe)) {
    throw wrong(
      `--probe: expected the id of a probe: 3 to 23 lower-case letters and digits, a letter first, ` +
        `got ${probe === undefined ? 'nothing' : `'${probe}'`}`,
    )
  }
  const usual = values.quick === true ? QUICK : THOROUGH
  const outage = Number(values.outage ?? usual.outage)
  if (!Number.isInteger(outage) || outage < 0 || outage > MOST_OUTAGE)
    throw wrong(
      `--outage: expected a whole number from 0 to ${MOST_OUTAGE}, got '${values.outage ?? ''}'`,
    )
  const soakMs = values.soak === undefined ? 0 : durationOf(values.soak)
  if (soakMs === null)
    throw wrong(`--soak: expected a time such as 90s, 5m, 2h or 1d, got '${values.soak ?? ''}'`)
  return {
    probe,
    listen: listenOf(values.listen ?? '1884'),
    broker: brokerOf(values.broker ?? ownBroker(context)),
    plan: { ...usual, outage, soakMs },
    report: values.report ?? null,
  }
}

function listenOf(text: string): Asked['listen'] {
  const [, host = '0.0.0.0', digits] = /^(?:(.+):)?(\d{1,5})$/.exec(text) ?? []
  const port = Number(digits)
  if (digits === undefined || port > 65_535)
    throw wrong(`--listen: expected a port such as 1884 or 127.0.0.1:1884, got '${text}'`)
  return { host: host.replace(/^\[(.*)\]$/, '$1'), port }
}

function brokerOf(text: string): Asked['broker'] {
  const url = URL.canParse(text) ? new URL(text) : null
  if (url?.protocol !== 'mqtt:' || url.hostname === '' || url.username !== '')
    throw wrong(
      `--broker: expected an address such as mqtt://127.0.0.1:1883 (the probe brings its own name and password), got '${text}'`,
    )
  return { host: url.hostname.replace(/^\[(.*)\]$/, '$1'), port: Number(url.port || 1883) }
}

const wrong = (message: string): HubError => new HubError('HUB_CONFIG', message, { retry: false })
