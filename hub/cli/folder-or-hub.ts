import { existsSync } from 'node:fs'
import { join } from 'node:path'
import { readLocalKey } from '../accounts/local-key.ts'
import type { Config } from '../config/settings.ts'
import { HubError } from '../errors.ts'
import { hubFetch } from './hub-fetch.ts'
import { openStores, type Stores } from '../store/open.ts'
import { pagesAddress } from '../assembly/own-addresses.ts'
import { inManner } from '../words/say.ts'
import { influxTarget } from '../assembly/wire-influx.ts'

/** A running hub said no. */
export class HubRefusal extends HubError {
  readonly status: number

  constructor(status: number, said: string) {
    super('HUB_CONFIG', `the running hub answered ${status}: ${said}`, { retry: false })
    this.status = status
  }
}

/** What a running hub said against a request. */
async function refusal(response: Response): Promise<HubRefusal> {
  const text = await response.text()
  let said = text
  try {
    const problem = JSON.parse(text) as {
      detail?: string
      errors?: { path: string; message: string }[]
    }
    const rows = (problem.errors ?? []).map(({ path, message }) => `${path}: ${message}`)
    said = [problem.detail ?? text, ...rows].join('\n  ')
  } catch {
    // Not from our hub: shown as it is.
  }
  return new HubRefusal(response.status, said)
}

/** Asks the hub that holds the data folder. */
export type AskHub = (path: string, init?: RequestInit & { duplex?: 'half' }) => Promise<Response>

/**
 * Works on the data folder itself, or through the hub that runs on it.
 *
 * @throws HubError when there is no data folder, or a hub holds it that cannot be reached or refuses
 */
export async function folderOrHub<T>(
  config: Config,
  ways: {
    readonly folder: (stores: Stores) => Promise<T>
    readonly hub: (ask: AskHub) => Promise<T>
    /** Makes a folder that is not there. @default false */
    readonly make?: boolean
  },
): Promise<T> {
  const { dataDir } = config
  if (ways.make !== true && !existsSync(join(dataDir, 'garden.db'))) {
    throw new HubError(
      'HUB_CONFIG',
      `expected a data folder at ${dataDir}, found none; LOAMLINE_DATA_DIR names another`,
      { retry: false },
    )
  }
  let stores: Stores
  try {
    const influx = influxTarget(config)
    // That no InfluxDB is set for this command alone does not end what is between it and the folder.
    stores = await openStores(dataDir, {
      zone: config.zone,
      ...(influx === null ? {} : { influx }),
    })
  } catch (error) {
    if (!(error instanceof HubError) || error.code !== 'HUB_STORE_LOCKED') throw error
    const base = pagesAddress(config)
    const ask = hubFetch(config.httpCertificate)
    const key = readLocalKey(dataDir)
    return ways.hub(async (path, init) => {
      const headers = new Headers(init?.headers)
      if (key !== null) headers.set('authorization', `Bearer ${key}`)
      const response = await ask(new URL(base + path), { ...init, headers }).catch(
        (cause: unknown) => {
          throw new HubError(
            'HUB_STORE_LOCKED',
            `A hub is running on ${dataDir}, and it cannot be reached at ${base}. Stop it, or give its port with ` +
              'LOAMLINE_HTTP_PORT.',
            { retry: false, cause },
          )
        },
      )
      if (!response.ok) throw await refusal(response)
      return response
    })
  }
  try {
    // A hub tells it in the manner of its garden; the folder alone does so too.
    return await inManner(await stores.garden.garden(), () => ways.folder(stores))
  } finally {
    await stores.close()
  }
}
