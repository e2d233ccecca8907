import { readFileSync } from 'node:fs'
import { parseArgs } from 'node:util'
import { runFleet, type Fleet } from '../demo/fleet.ts'
import { HubError } from '../errors.ts'
import { SECOND } from '../model/clock.ts'
import type { Fault } from '../simulator/faults.ts'
import { fleetScenario } from '../simulator/fleet-scenario.ts'
import { durationOf, FAULT_FORM, FAULT_KINDS, readFault, type AskedFault } from './fleet-faults.ts'
import type { CommandContext } from './main.ts'
import { ownBroker } from './own-broker.ts'
import { stopOnSignal } from './start.ts'

const OPTIONS = {
  broker: { type: 'string' },
  count: { type: 'string' },
  prefix: { type: 'string' },
  seed: { type: 'string' },
  every: { type: 'string' },
  for: { type: 'string' },
  fault: { type: 'string', multiple: true },
  lose: { type: 'string' },
  'clock-error': { type: 'string' },
  passwords: { type: 'string' },
  ca: { type: 'string' },
  config: { type: 'string' },
  help: { type: 'boolean', short: 'h' },
} as const

const MOST_PROBES = 1000
const LOOK_MS = 10 * SECOND

const HELP = [
  'usage: npm run loamline -- probes [options]',
  '',
  'Simulated probes that speak the real protocol over MQTT, to try a set-up before soldering.',
  'They show up as strangers, to be taken in on the page of probes.',
  '',
  '  --broker URL         where they publish; the broker of the hub with these settings',
  `  --count N            how many, 1 to ${MOST_PROBES}; 3`,
  '  --prefix TEXT        ids are this and a number; sim',
  '  --seed N             the same seed gives the same soil and readings; 1',
  '  --every TIME         a reading each, 1s to 1d; 10s',
  '  --for TIME           stop after this; without it they run until Ctrl-C',
  '  --lose SHARE         share of messages that never arrive, 0 to 0.9; 0',
  '  --clock-error SHARE  clocks that run fast (0.05) or slow (-0.05); 0',
  '  --passwords FILE     lines of id and password with a colon between',
  '  --ca FILE            certificates (PEM) of who vouches for a broker at mqtts://',
  '  --config FILE        settings of the hub; else those of the environment',
  `  --fault FAULT        may be given often: ${FAULT_FORM}`,
  '',
  ...Object.entries(FAULT_KINDS).map(([kind, words]) => `      ${kind.padEnd(10)} ${words}`),
  '',
  'Without PROBE a fault befalls every probe, without START it begins after a minute, without LENGTH it stays.',
].join('\n')

interface Asked {
  readonly url: string
  readonly count: number
  readonly prefix: string
  readonly seed: number
  readonly everyMs: number
  readonly forMs: number | null
  readonly lose: number
  readonly clockError: number
  readonly passwords: ReadonlyMap<string, string>
  readonly ca: string | null
  readonly faults: readonly AskedFault[]
}

/** Runs simulated probes against any broker and says how they fare. */
export async function probesCommand(context: CommandContext): Promise<void> {
  const asked = read(context)
  if (asked === null) {
    console.log(HELP)
    return
  }
  const now = Date.now()
  const scenario = fleetScenario({
    seed: asked.seed,
    count: asked.count,
    prefix: asked.prefix,
    now,
    clockError: asked.clockError,
    buffer: 96,
    faultsOf: (number) =>
      asked.faults.flatMap(({ probe, fault }) =>
        probe === null || probe === number ? [shifted(fault, now)] : [],
      ),
  })
  const told = new Map<string, string>()
  const fleet = runFleet({
    url: asked.url,
    scenario,
    clock: Date.now,
    intervalMs: asked.everyMs,
    lose: asked.lose,
    passwords: asked.passwords,
    ...(asked.ca === null ? {} : { ca: asked.ca }),
    onTrouble: (probe, { message }) => {
      // The same trouble again and again is told once.
      if (told.get(probe) === message) return
      told.set(probe, message)
      console.error(`${probe}: ${message || 'the broker cannot be reached'}; trying again`)
    },
  })
  console.log(`${asked.count} probes publish to ${asked.url}. Stop with Ctrl-C.`)
  const look = setInterval(() => console.log(lineOf(fleet)), LOOK_MS)
  const end = async (): Promise<void> => {
    clearInterval(look)
    const last = lineOf(fleet)
    await fleet.stop()
    console.log(last)
  }
  stopOnSignal(end)
  const { forMs } = asked
  if (forMs !== null) {
    await new Promise((resolve) => setTimeout(resolve, forMs))
    await end()
  }
}

function shifted(fault: Fault, by: number): Fault {
  return { ...fault, from: fault.from + by, to: fault.to + by }
}

function lineOf(fleet: Fleet): string {
  const probes = fleet.probes()
  const sum = (of: 'taken' | 'unacknowledged'): number =>
    probes.reduce((total, probe) => total + probe[of], 0)
  const states = new Map<string, number>()
  for (const { state } of probes) states.set(state, (states.get(state) ?? 0) + 1)
  const words = Array.from(states, ([state, n]) => `${n} ${state}`).join(', ')
  return `${words}; ${sum('taken')} readings taken, ${sum('unacknowledged')} not acknowledged by a hub`
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
  const number = (
    name: 'count' | 'seed' | 'lose' | 'clock-error',
    usual: number,
    [least, most]: readonly [number, number],
    whole: boolean,
  ): number => {
    const text = values[name]
    if (text === undefined) return usual
    const value = Number(text)
    const fits = value >= least && value <= most && (!whole || Number.isInteger(value))
    if (text.trim() === '' || !fits) {
      throw wrong(
        `--${name}: expected ${whole ? 'a whole number' : 'a number'} from ${least} to ${most}, got '${text}'`,
      )
    }
    return value
  }
  const time = (name: 'every' | 'for', least: number): number | null => {
    const text = values[name]
    if (text === undefined) return null
    const ms = durationOf(text)
    if (ms === null || ms < least) {
      throw wrong(`--${name}: expected a time such as 90s, 5m, 2h or 1d, got '${text}'`)
    }
    return ms
  }
  const url = values.broker ?? ownBroker(context)
  if (!/^mqtts?:\/\/[^/\s]+$/.test(url)) {
    throw wrong(`--broker: expected an address such as mqtt://broker.local:1883, got '${url}'`)
  }
  const prefix = values.prefix ?? 'sim'
  if (!/^[a-z][a-z0-9]{0,18}$/.test(prefix) || prefix.length < 2) {
    throw wrong(
      `--prefix: expected 2 to 19 lower-case letters and digits, a letter first, got '${prefix}'`,
    )
  }
  const count = number('count', 3, [1, MOST_PROBES], true)
  const faults = (values.fault ?? []).map((text) => {
    const fault = readFault(text, count)
    if ('problem' in fault) throw wrong(fault.problem)
    return fault
  })
  return {
    url,
    count,
    prefix,
    seed: number('seed', 1, [0, 4_294_967_295], true),
    everyMs: time('every', SECOND) ?? 10 * SECOND,
    forMs: time('for', SECOND),
    lose: number('lose', 0, [0, 0.9], false),
    clockError: number('clock-error', 0, [-0.2, 0.2], false),
    passwords: passwordsOf(values.passwords),
    ca: values.ca === undefined ? null : textOf('ca', values.ca),
    faults,
  }
}

function textOf(option: 'ca' | 'passwords', file: string): string {
  try {
    return readFileSync(file, 'utf8')
  } catch (error) {
    throw wrong(`--${option}: '${file}' cannot be read: ${(error as Error).message}`)
  }
}

function passwordsOf(file: string | undefined): ReadonlyMap<string, string> {
  if (file === undefined) return new Map()
  const text = textOf('passwords', file)
  const lines = text.split(/\r?\n/).filter((line) => line.trim() !== '')
  return new Map(
    lines.map((line, i) => {
      const colon = line.indexOf(':')
      // The line itself is not repeated: it may hold a secret.
      if (colon < 1) throw wrong(`--passwords: expected id:password in line ${i + 1} of '${file}'`)
      return [line.slice(0, colon), line.slice(colon + 1)]
    }),
  )
}

const wrong = (message: string): HubError => new HubError('HUB_CONFIG', message, { retry: false })
