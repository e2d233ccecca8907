import { freePort } from '../ports.ts'
import { asProcess } from './as-process.ts'
import { chooseBackend } from './choose-backend.ts'
import { inContainer } from './in-container.ts'
import { influxdKind, makeFirstUser } from './influxd-kind.ts'
import { mosquittoKind, type MosquittoOptions } from './mosquitto-kind.ts'
import type { Backend, Service } from './service.ts'
import type { ServiceKind } from './service-kind.ts'

export type { Backend, Service }

const TRIES = 4
/** What it says when another program took the port in the meantime. */
const TAKEN = /address already in use|port is already allocated|EADDRINUSE/i

let chosen: Promise<Backend> | undefined

/** How services are run here, by the environment variable TEST_SERVICES (default auto). */
export function backend(): Promise<Backend> {
  chosen ??= chooseBackend(process.env['TEST_SERVICES'] ?? 'auto').then((c) => c.backend)
  return chosen
}

/** A real MQTT broker with the settings the README recommends, and what is asked for besides. */
export function startMosquitto(options: MosquittoOptions = {}): Promise<Service> {
  return start(mosquittoKind(options))
}

/**
 * A real InfluxDB 1.x. With `auth` it asks everybody for a password: of the administrator who is named, or, at
 * 'nobody yet', of whomever a first statement makes one.
 */
export async function startInfluxd(
  options: {
    readonly auth?: { readonly user: string; readonly password: string } | 'nobody yet'
  } = {},
): Promise<Service> {
  const { auth } = options
  const service = await start(influxdKind({ auth: auth !== undefined }))
  if (auth !== undefined && auth !== 'nobody yet') {
    await makeFirstUser(service.port, auth).catch(async (error: unknown) => {
      await service[Symbol.asyncDispose]()
      throw error
    })
  }
  return service
}

async function start(kind: ServiceKind): Promise<Service> {
  const way = (await backend()) === 'containers' ? inContainer : asProcess
  for (let tries = 1; ; tries++) {
    try {
      return await way(kind, await freePort())
    } catch (error) {
      if (tries === TRIES || !TAKEN.test(String(error))) throw error
    }
  }
}
