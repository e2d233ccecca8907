import { existsSync } from 'node:fs'
import { join } from 'node:path'
import { setTimeout as sleep } from 'node:timers/promises'
import { HubError } from '../errors.ts'
import { SECOND } from '../model/clock.ts'
import { openInfluxClient, type InfluxClient } from '../store/influx/influx-client.ts'
import { quoteName } from '../store/influx/names.ts'
import type { CommandContext } from './main.ts'
import { badOption, readOptions } from './options.ts'
import { stackSecretsIn, writeSecret, type StackSecrets } from './stack-secrets.ts'

const HELP = `Makes what broker, InfluxDB and hub need to trust each other in a stack of containers: passwords, at the first
start; InfluxDB's users and the database, wherever they are missing; a config file with the hub's passwords.

  npm run loamline -- prepare --secrets FOLDER --influx URL [--database NAME] [--within SECONDS]

  --secrets FOLDER   where the passwords are kept; hub.json in it is for LOAMLINE_CONFIG
  --influx URL       an InfluxDB 1.x with authentication on, such as http://influxdb:8086
  --database NAME    default loamline
  --within SECONDS   how long to wait for InfluxDB at the first start; default 120

It may run at every start. Once it has succeeded, an InfluxDB that is away keeps it from nothing: the hub takes
readings all the same.`

/** File for LOAMLINE_CONFIG, in the folder of the secrets. */
export const HUB_FILE = 'hub.json'
const ADMIN = 'admin'
const HUB = 'hub'
const DEFAULT_WITHIN_S = 120
/** A stack that was prepared before does not wait for an InfluxDB that is away. */
const AGAIN_WITHIN_S = 3
const EVERY_MS = SECOND / 2

export interface PrepareOptions {
  readonly secrets: string
  readonly influx: string
  /** @default 'loamline' */
  readonly database?: string
  /** @default 120 */
  readonly withinS?: number
}

/** Resolves to whether InfluxDB was there; @throws HubError when a first start cannot go on. */
export async function prepareStack(options: PrepareOptions): Promise<boolean> {
  const { secrets: folder, influx, database = 'loamline' } = options
  const file = join(folder, HUB_FILE)
  const again = existsSync(file)
  const secrets = await stackSecretsIn(folder)
  const client = openInfluxClient({
    url: influx,
    database,
    retention: null,
    auth: { kind: 'basic', user: ADMIN, password: secrets.influxAdmin },
  })
  const end =
    performance.now() + (again ? AGAIN_WITHIN_S : (options.withinS ?? DEFAULT_WITHIN_S)) * SECOND
  try {
    for (;;) {
      try {
        await letIn(client, database, secrets)
        break
      } catch (error) {
        if (!(error instanceof HubError) || !error.retry) throw error
        if (performance.now() > end) {
          if (again) return false
          throw error
        }
        await sleep(EVERY_MS)
      }
    }
  } finally {
    await client.close()
  }
  await writeSecret(file, {
    brokerPassword: secrets.broker,
    brokerReaderPassword: secrets.reader,
    influxUser: HUB,
    influxPassword: secrets.influxHub,
  })
  return true
}

/** The administrator, the database, and the hub as one who may read and write there and nothing else. */
async function letIn(client: InfluxClient, database: string, secrets: StackSecrets): Promise<void> {
  // Passwords of base32: nothing in them that ends a quoted text. The same user again is no error in 1.x.
  await client.query(
    `CREATE USER ${quoteName(ADMIN)} WITH PASSWORD '${secrets.influxAdmin}' WITH ALL PRIVILEGES`,
  )
  await client.query(`CREATE DATABASE ${quoteName(database)}`)
  await client.query(`CREATE USER ${quoteName(HUB)} WITH PASSWORD '${secrets.influxHub}'`)
  await client.query(`GRANT ALL ON ${quoteName(database)} TO ${quoteName(HUB)}`)
}

/** `prepare`: see the help. */
export async function prepareCommand({ args }: CommandContext): Promise<void> {
  const { values } = readOptions(
    {
      args: [...args],
      options: {
        secrets: { type: 'string' },
        influx: { type: 'string' },
        database: { type: 'string' },
        within: { type: 'string' },
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
  const { secrets, influx, database, within } = values
  if (secrets === undefined || influx === undefined)
    throw badOption(`expected --secrets and --influx\n\n${HELP}`)
  const url = URL.parse(influx)
  if (url === null || !/^https?:$/.test(url.protocol) || url.username !== '')
    throw badOption(
      `--influx: expected an address such as http://influxdb:8086, without user and password`,
    )
  if (within !== undefined && !/^\d{1,5}$/.test(within))
    throw badOption(`--within: expected whole seconds, got ${within}`)
  const was = await prepareStack({
    secrets,
    influx,
    ...(database === undefined ? {} : { database }),
    ...(within === undefined ? {} : { withinS: Number(within) }),
  })
  console.log(
    was
      ? `InfluxDB at ${influx} lets the hub in; its passwords are in ${secrets}.`
      : `InfluxDB at ${influx} is away; the hub starts without it.`,
  )
}
