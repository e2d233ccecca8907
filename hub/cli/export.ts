import { createWriteStream } from 'node:fs'
import { Readable } from 'node:stream'
import { pipeline } from 'node:stream/promises'
import { loadConfig } from '../config/load.ts'
import { isZone } from '../model/zone.ts'
import { DAY } from '../model/clock.ts'
import { exportReadings } from '../transfer/export-readings.ts'
import { RECORD_TABLES, recordTable } from '../transfer/record-tables.ts'
import type { RecordTable } from '../transfer/record-tables.ts'
import type { DamagedPart } from '../store/damage.ts'
import { folderOrHub } from './folder-or-hub.ts'
import type { CommandContext } from './main.ts'
import { badOption, dayStart, readOptions } from './options.ts'

const HELP = `Writes readings or records to a file of an open format, whether the hub runs or not.

  npm run loamline -- export [readings] [--format csv|lines] [--layout wide|long] [--step raw|hour]
      [--probe ID] [--channel NAME] [--from DAY] [--to DAY] [--zone ZONE] [--out FILE]
  npm run loamline -- export ${RECORD_TABLES.join('|')} [--out FILE]

  --format lines  InfluxDB line protocol, times in nanoseconds; csv is the default
  --layout long   one value a row; wide, one column a channel, is the default
  --step hour     least, mean, most and median of each hour; raw, as sent, is the default
  --probe, --channel   only these; may be given again
  --from, --to    days such as 2026-03-01 of the garden's calendar, both inside
  --zone          time zone in which times are written, such as Europe/Lisbon or UTC; the garden's is the default
  --out FILE      else to the terminal`

/** `export`: see the help. */
export async function exportCommand({ env, configFile, args }: CommandContext): Promise<void> {
  const { values, positionals } = readOptions(
    {
      args: [...args],
      allowPositionals: true,
      options: {
        format: { type: 'string', default: 'csv' },
        layout: { type: 'string', default: 'wide' },
        step: { type: 'string', default: 'raw' },
        probe: { type: 'string', multiple: true },
        channel: { type: 'string', multiple: true },
        from: { type: 'string' },
        to: { type: 'string' },
        zone: { type: 'string' },
        out: { type: 'string' },
        help: { type: 'boolean', short: 'h' },
        config: { type: 'string' },
      },
    },
    HELP,
  )
  if (values.help === true) {
    console.log(HELP)
    return
  }
  const [what = 'readings', ...more] = positionals
  const table = RECORD_TABLES.find((name) => name === what)
  if (more.length > 0 || (table === undefined && what !== 'readings')) {
    throw badOption(
      `expected one of readings, ${RECORD_TABLES.join(', ')}, got '${positionals.join(' ')}'`,
    )
  }
  const { config } = loadConfig(env, configFile)
  await folderOrHub(config, {
    folder: async ({ garden, readings }) => {
      const { zone } = await garden.garden()
      if (table !== undefined) return write([await recordTable(garden, table)], values.out)
      const asked = askedOf(values, zone)
      const known = (await garden.probes()).map(({ id }) => id)
      const stranger = asked.probes?.find((id) => !known.includes(id))
      if (stranger !== undefined) {
        throw badOption(`--probe: expected one of ${known.join(', ')}, got '${stranger}'`)
      }
      await write(exportReadings({ readings, garden }, asked), values.out)
      tellMissing(await readings.damage.list(), asked)
    },
    hub: async (ask) => {
      const { zone } = (await (await ask('/api/garden')).json()) as { zone: string }
      const asked = askedOf(values, zone)
      const response = await ask(pathOf(table, asked))
      await write(response.body!, values.out)
      if (table === undefined)
        tellMissing((await (await ask('/api/damaged')).json()) as DamagedPart[], asked)
    },
  })
}

/** Beside the file: whoever reads it cannot see what is not in it. */
function tellMissing(
  parts: readonly DamagedPart[],
  { probes, from, to }: ReturnType<typeof askedOf>,
): void {
  for (const part of parts) {
    if (part.probe === null || part.from === null || part.to === null) continue
    if (part.what === 'names' || part.settled?.how === 'back') continue
    if (part.from >= to || part.to <= from || probes?.includes(part.probe) === false) continue
    console.error(
      `Not in it, because they were damaged on the disk: ${part.readings} readings of ${part.probe}, ` +
        `${new Date(part.from).toISOString()} to ${new Date(part.to).toISOString()}; see: npm run loamline -- damaged`,
    )
  }
}

interface Given {
  readonly format: string
  readonly layout: string
  readonly step: string
  readonly probe?: string[]
  readonly channel?: string[]
  readonly from?: string
  readonly to?: string
  readonly zone?: string
}

function oneOf<T extends string>(option: string, text: string, choices: readonly T[]): T {
  const found = choices.find((choice) => choice === text)
  if (found === undefined) {
    throw badOption(`--${option}: expected ${choices.join(' or ')}, got '${text}'`)
  }
  return found
}

function askedOf(values: Given, zone: string) {
  const written = values.zone ?? zone
  if (written !== 'UTC' && !isZone(written)) {
    throw badOption(`--zone: expected a time zone such as Europe/Lisbon, got '${written}'`)
  }
  const lines = oneOf('format', values.format, ['csv', 'lines']) === 'lines'
  return {
    probes: values.probe ?? null,
    channels: values.channel ?? null,
    from: values.from === undefined ? 0 : dayStart('from', values.from, zone),
    to: (values.to === undefined ? Date.now() : dayStart('to', values.to, zone)) + DAY,
    step: oneOf('step', values.step, ['raw', 'hour']),
    layout: lines ? ('lines' as const) : oneOf('layout', values.layout, ['wide', 'long']),
    zone: written,
  }
}

function pathOf(table: RecordTable | undefined, asked: ReturnType<typeof askedOf>): string {
  if (table !== undefined) return `/api/export/records/${table}`
  const { probes, channels, from, to, step, layout, zone } = asked
  const query = new URLSearchParams({ from: String(from), to: String(to), step, zone })
  if (probes !== null) query.set('probe', probes.join(','))
  if (channels !== null) query.set('channel', channels.join(','))
  if (layout !== 'lines') query.set('layout', layout)
  return `/api/export/readings.${layout === 'lines' ? 'lp' : 'csv'}?${query.toString()}`
}

async function write(
  pieces: AsyncIterable<string | Uint8Array> | Iterable<string>,
  out: string | undefined,
): Promise<void> {
  const body = Readable.from(pieces)
  if (out === undefined) {
    // The terminal stays open for what follows.
    await pipeline(body, process.stdout, { end: false })
    return
  }
  const target = createWriteStream(out, { flags: 'wx' })
  try {
    await pipeline(body, target)
  } catch (error) {
    const { code, message } = error as NodeJS.ErrnoException
    if (code === undefined || !code.startsWith('E')) throw error
    throw badOption(
      code === 'EEXIST'
        ? `--out: ${out} is there already; nothing was written`
        : `--out: ${out} cannot be written (${message})`,
    )
  }
}
