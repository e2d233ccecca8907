import { createInterface } from 'node:readline'
import { parseArgs } from 'node:util'
import { BUFFER_SETS, bufferPh } from '../agronomy/buffers.ts'
import type { CalibrationEffectView, SettlingView } from '../api/schemas/calibrating.ts'
import type { Problem } from '../api/schemas/common.ts'
import type { CalibrationCheck, CalibrationInput, ProbeView } from '../api/schemas/probe.ts'
import { readLocalKey } from '../accounts/local-key.ts'
import { isLoopback } from '../accounts/places.ts'
import { loadConfig } from '../config/load.ts'
import { HubError } from '../errors.ts'
import { hubFetch, type HubFetch } from './hub-fetch.ts'
import type { CommandContext } from './main.ts'

const OPTIONS = {
  temperature: { type: 'string' },
  set: { type: 'string' },
  buffers: { type: 'string' },
  channel: { type: 'string' },
  hub: { type: 'string' },
  token: { type: 'string' },
  note: { type: 'string' },
  yes: { type: 'boolean' },
  help: { type: 'boolean', short: 'h' },
} as const
const POLL_MS = 2000
const NUMBER = /^[-+]?\d+([.,]\d+)?$/

const HELP = [
  'usage: npm run loamline -- calibrate PROBE --temperature DEGREES [options]',
  '',
  'Calibrates the electrode of a probe in two or three buffers, step by step; the hub has to run.',
  'The same is on the page of the probe.',
  '',
  '  --temperature C  of the buffers, degrees Celsius',
  `  --set ID         ${BUFFER_SETS.map(({ id, name }) => `${id} (${name})`).join(', ')}; technical`,
  '  --buffers NAMES  two or three of that set with commas between; 7.00,4.00',
  '  --channel NAME   the electrode; the first one the probe has',
  '  --hub URL        where the hub is; http://127.0.0.1:8090',
  '  --token TEXT     for a hub that has an owner, unless it runs here: made on its page of people',
  '  --note TEXT      a remark to keep with it',
  '  --yes            store it without asking when it is fit for use',
  '',
  'While a value settles, Enter takes it as it is, and a number typed is taken instead of it.',
].join('\n')

const refuse = (message: string): HubError => new HubError('HUB_CONFIG', message, { retry: false })

interface Asked {
  readonly probe: string
  readonly hub: string
  readonly token: string | undefined
  readonly channel: string | undefined
  readonly set: (typeof BUFFER_SETS)[number]
  readonly buffers: readonly { readonly name: string; readonly ph: number }[]
  readonly temperatureC: number
  readonly note: string
  readonly yes: boolean
}

/** Calibrates an electrode in dialogue with whoever holds it. */
export async function calibrateCommand({ env, configFile, args }: CommandContext): Promise<void> {
  const asked = read(args)
  if (asked === null) {
    console.log(HELP)
    return
  }
  // The key of this machine's own hub goes to no other.
  const isHere = isLoopback(new URL(asked.hub).hostname)
  const config = isHere ? loadConfig(env, configFile).config : null
  const key = config === null ? null : readLocalKey(config.dataDir)
  const ask = asker(asked.hub, asked.token ?? key, hubFetch(config?.httpCertificate ?? null))
  const probe = await ask<ProbeView>('GET', `/probes/${asked.probe}`)
  const electrodes = probe.channels.filter((c) => c.senses === 'ph.emf').map((c) => c.name)
  const channel = asked.channel ?? electrodes[0]
  if (channel === undefined) throw refuse(`${asked.probe} has sent no electrode channel yet`)
  using lines = lineReader()
  const startedAt = Date.now()
  const points: { ph: number; emfMv: number }[] = []
  for (const { name, ph } of asked.buffers) {
    console.log(
      `\nBuffer ${name}, pH ${ph} at ${asked.temperatureC} °C: rinse the electrode with distilled water, dab it dry, stand it in fresh buffer, then press Enter.`,
    )
    await lines.next()
    points.push({ ph, emfMv: await valueIn(asked.probe, channel, ask, lines) })
    console.log(`Taken: ${points.at(-1)!.emfMv} mV.`)
  }
  const calibration: CalibrationInput = {
    kind: 'electrode',
    channel,
    at: Date.now(),
    points: points as Extract<CalibrationInput, { kind: 'electrode' }>['points'],
    temperatureC: asked.temperatureC,
    bufferSet: asked.set.id,
    note: asked.note,
  }
  const path = `/probes/${asked.probe}/calibrations`
  const check = await ask<CalibrationCheck>('POST', `${path}/check`, calibration)
  const effect = await ask<CalibrationEffectView>(
    'POST',
    `${path}/effect?until=${startedAt}`,
    calibration,
  )
  const verdict = { good: 'Good', usable: 'Usable', reject: 'Not fit for use' }[check.verdict]
  console.log(`\n${verdict}. ${check.sentence} (${check.source})\n${effect.sentence}`)
  if (check.verdict === 'reject') throw refuse('nothing was stored')
  if (!asked.yes) {
    console.log('Store it? Type y and press Enter.')
    if ((await lines.next()).trim().toLowerCase() !== 'y') {
      console.log('Nothing was stored.')
      return
    }
  }
  await ask('POST', path, calibration)
  console.log('Stored. It holds from now on.')
}

/** Waits until the probe has come to rest, or for a word of whoever holds it. */
async function valueIn(
  probe: string,
  channel: string,
  ask: ReturnType<typeof asker>,
  lines: ReturnType<typeof lineReader>,
): Promise<number> {
  const since = Date.now()
  let said = ''
  for (;;) {
    const seen = await ask<SettlingView>(
      'GET',
      `/probes/${probe}/settling?channel=${channel}&since=${since}`,
    )
    const line =
      seen.value === null ? seen.sentence : `${seen.value.toFixed(1)} mV. ${seen.sentence}`
    if (line !== said) console.log(line)
    said = line
    const rounded = seen.value === null ? null : Math.round(seen.value * 100) / 100
    if (seen.state === 'settled' && rounded !== null) return rounded
    const typed = (await lines.nextWithin(POLL_MS))?.trim()
    if (typed === undefined) continue
    if (NUMBER.test(typed)) return Number(typed.replace(',', '.'))
    if (typed === '' && rounded !== null) return rounded
    console.log(
      typed === ''
        ? 'No reading yet to be taken.'
        : `Expected Enter or a number in mV, got '${typed}'.`,
    )
  }
}

/** Lines of the terminal one after the other. */
function lineReader() {
  const input = createInterface({ input: process.stdin })
  const waiting: string[] = []
  let wake: (() => void) | null = null
  let ended = false
  input.on('line', (line) => {
    waiting.push(line)
    wake?.()
  })
  input.on('close', () => {
    ended = true
    wake?.()
  })
  async function nextWithin(ms: number | null): Promise<string | undefined> {
    if (waiting.length === 0 && !ended) {
      await new Promise<void>((resolve) => {
        const timer = ms === null ? undefined : setTimeout(resolve, ms)
        wake = () => {
          clearTimeout(timer)
          resolve()
        }
      })
      wake = null
    }
    const line = waiting.shift()
    if (line === undefined && ended) throw refuse('the input ended before the calibration did')
    return line
  }
  return {
    nextWithin,
    async next(): Promise<string> {
      return (await nextWithin(null)) ?? ''
    },
    [Symbol.dispose]: () => input.close(),
  }
}

/** Speaks to a running hub; what it refuses is told in its own words. */
function asker(hub: string, token: string | null, call: HubFetch) {
  const authorization = token === null ? {} : { authorization: `Bearer ${token}` }
  return async <T>(method: 'GET' | 'POST', path: string, body?: unknown): Promise<T> => {
    let response: Response
    try {
      response = await call(new URL(`/api${path}`, hub), {
        method,
        ...(body === undefined
          ? { headers: authorization }
          : {
              body: JSON.stringify(body),
              headers: { 'content-type': 'application/json', ...authorization },
            }),
      })
    } catch {
      throw refuse(`no hub answers at ${hub}: start it, or say --hub`)
    }
    if (response.ok) return (await response.json()) as T
    const problem = (await response.json()) as Problem
    const rows = (problem.errors ?? []).map(({ path: of, message }) => `${of}: ${message}`)
    throw refuse([problem.detail ?? problem.title, ...rows].join('\n'))
  }
}

/** Null asks for the help. */
function read(args: readonly string[]): Asked | null {
  let parsed
  try {
    parsed = parseArgs({ args: [...args], options: OPTIONS, allowPositionals: true })
  } catch (error) {
    throw refuse(`${(error as Error).message}\n\n${HELP}`)
  }
  const { values, positionals } = parsed
  if (values.help === true) return null
  const [probe, ...rest] = positionals
  if (probe === undefined || rest.length > 0) {
    throw refuse(`expected one probe, got '${positionals.join(' ')}'\n\n${HELP}`)
  }
  const hub = values.hub ?? 'http://127.0.0.1:8090'
  if (!URL.canParse(hub))
    throw refuse(`--hub: expected an address such as http://127.0.0.1:8090, got '${hub}'`)
  const set = BUFFER_SETS.find(({ id }) => id === (values.set ?? 'technical'))
  if (set === undefined) {
    throw refuse(
      `--set: expected ${BUFFER_SETS.map(({ id }) => id).join(' or ')}, got '${values.set}'`,
    )
  }
  const warm = values.temperature ?? ''
  if (!NUMBER.test(warm)) {
    throw refuse(`--temperature: expected degrees Celsius of the buffers, got '${warm}'`)
  }
  const temperatureC = Number(warm.replace(',', '.'))
  const names = values.buffers?.split(',').map((name) => name.trim()) ?? usual(set)
  if (names.length < 2 || names.length > 3 || new Set(names).size < names.length) {
    throw refuse(`--buffers: expected two or three different ones, got '${values.buffers}'`)
  }
  const buffers = names.map((name) => {
    const ph = Math.round(bufferPh(set.id, name, temperatureC) * 1000) / 1000
    if (Number.isFinite(ph)) return { name, ph }
    const known = set.buffers.map((buffer) => buffer.name).join(', ')
    throw refuse(
      `--buffers: expected names of '${set.name}' (${known}) with a value at ${temperatureC} °C, got '${name}'`,
    )
  })
  return {
    probe,
    hub,
    token: values.token,
    channel: values.channel,
    set,
    buffers,
    temperatureC,
    note: values.note ?? '',
    yes: values.yes === true,
  }
}

/** The ones about pH 7 and pH 4. */
function usual(set: (typeof BUFFER_SETS)[number]): string[] {
  return [7, 4].map(
    (wanted) =>
      set.buffers.toSorted(
        (a, b) =>
          Math.abs(bufferPh(set.id, a.name, 25) - wanted) -
          Math.abs(bufferPh(set.id, b.name, 25) - wanted),
      )[0]!.name,
  )
}
