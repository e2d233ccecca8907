import { chmodSync, copyFileSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import mqtt from 'mqtt'
import type { IClientOptions, MqttClient } from 'mqtt'
import {
  ACCESS_FILE,
  createBrokerFiles,
  hubAccount,
  PASSWORD_FILE,
} from '#hub/ingest/broker-files.ts'
import { openEmbeddedBroker } from '#hub/ingest/embedded-broker.ts'
import { openExternalBroker } from '#hub/ingest/external-broker.ts'
import type { Front } from '#hub/ingest/front.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { brokerHash } from '#hub/ingest/password.ts'
import { openProbePasswords, type ProbePasswords } from '#hub/ingest/probe-passwords.ts'
import { startBroker } from '#tests/support/broker.ts'
import { memoryCredentials } from '#tests/support/memory-credentials.ts'
import { memoryGarden, memoryReadings, type MemoryReadings } from '#tests/support/memory-stores.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { until } from '#tests/support/until.ts'

/** A broker with the hub at it, two probes with passwords (`bed3a`, `bed3b`) and one that lost its own (`bed3c`). */
export interface Stage extends AsyncDisposable {
  readonly url: string
  /** Protocol versions it speaks: 3 is MQTT 3.1, 4 is 3.1.1, 5 is 5. */
  readonly versions: readonly (3 | 4 | 5)[]
  readonly front: Front
  readonly store: MemoryReadings
  readonly passwords: ProbePasswords
  readonly passwordOf: Readonly<Record<'bed3a' | 'bed3b' | 'bed3c', string>>
  /** The hub's own account; null where the hub is the broker. */
  readonly hub: { readonly user: string; readonly password: string } | null
  /** Hands changed passwords to the broker. */
  handOver(): Promise<void>
  /** Comes in at the door for probes. Rejects when it is not let in. */
  enter(options: IClientOptions): Promise<MqttClient>
  /** Comes in as a probe with its password. */
  as(probe: 'bed3a' | 'bed3b', options?: IClientOptions): Promise<MqttClient>
  /** Comes in as somebody who sees everything that the broker hands on. */
  observe(): Promise<MqttClient>
}

export type StageName = 'the built-in broker' | 'a mosquitto with the files of the hub'

const HUB = { user: 'hub', password: 'a hub of its own' }
/** Accounts that see everything: at mosquitto a second client of the same name would push the first one out. */
const OBSERVERS = ['Observer1', 'Observer2', 'Observer3', 'Observer4']
const OBSERVER_PASSWORD = 'sees it all'

export async function openStage(name: StageName): Promise<Stage> {
  const open: MqttClient[] = []
  let observers = 0
  const store = memoryReadings()
  const log = { warn: () => {}, info: () => {} }
  const ingest = createIngest({
    readings: store.port,
    garden: memoryGarden().port,
    clock: Date.now,
    log,
  })
  const dir = tempDir()
  const external = name !== 'the built-in broker'
  const folder = join(dir.path, 'files')
  const account = await hubAccount(HUB.user, HUB.password)
  const files = external ? createBrokerFiles(folder, account, log.warn) : null
  const passwords = await openProbePasswords(memoryCredentials(), Date.now, files)
  const passwordOf = {
    bed3a: await passwords.make('bed3a'),
    bed3b: await passwords.make('bed3b'),
    bed3c: await passwords.make('bed3c'),
  }
  await passwords.revoke('bed3c')

  let front: Front
  let url: string
  let handOver = async (): Promise<void> => {}
  let endBroker = async (): Promise<void> => {}
  if (external) {
    // As the README says, the files are copied to where mosquitto reads them; one account more looks on.
    if (process.getuid?.() === 0) chmodSync(dir.path, 0o755)
    const theirs = { passwords: join(dir.path, 'passwords'), access: join(dir.path, 'access') }
    const hash = await brokerHash(OBSERVER_PASSWORD)
    const lines = OBSERVERS.map((user) => `${user}:${hash}\n`).join('')
    const rights = OBSERVERS.map((user) => `\nuser ${user}\ntopic readwrite #\ntopic read $SYS/#\n`)
    const copy = (): void => {
      copyFileSync(join(folder, PASSWORD_FILE), theirs.passwords)
      writeFileSync(theirs.passwords, readFileSync(theirs.passwords, 'utf8') + lines)
      const access = readFileSync(join(folder, ACCESS_FILE), 'utf8')
      writeFileSync(theirs.access, access + rights.join(''), { mode: 0o600 })
    }
    copy()
    const broker = await startBroker({
      config: [
        'allow_anonymous false',
        `password_file ${theirs.passwords}`,
        `acl_file ${theirs.access}`,
        'use_username_as_clientid true',
        'sys_interval 1',
      ],
    })
    url = broker.url
    front = await openExternalBroker({
      url,
      username: HUB.user,
      password: HUB.password,
      ingest,
      clock: Date.now,
      log,
    })
    handOver = async () => {
      copy()
      await broker.reload()
    }
    endBroker = () => broker.close()
  } else {
    front = await openEmbeddedBroker({
      host: '127.0.0.1',
      port: 0,
      ingest,
      clock: Date.now,
      log,
      passwords,
      strangers: 'local',
    })
    url = front.address
  }
  await until('the hub is at the broker', () => front.state().state === 'up')

  function enter(options: IClientOptions): Promise<MqttClient> {
    const client = mqtt.connect(url, {
      reconnectPeriod: 0,
      protocolVersion: 4,
      ...(options.protocolVersion === 3 ? { protocolId: 'MQIsdp' } : {}),
      ...options,
    })
    open.push(client)
    return new Promise((resolve, reject) => {
      client.once('connect', () => resolve(client))
      client.on('error', reject)
      // A broker may hang up without a word.
      client.on('close', () => reject(new Error('the broker hung up')))
    })
  }

  return {
    url,
    versions: external ? [3, 4, 5] : [3, 4],
    front,
    store,
    passwords,
    passwordOf,
    hub: external ? HUB : null,
    handOver,
    enter,
    as: (probe, options = {}) =>
      enter({ clientId: probe, username: probe, password: passwordOf[probe], ...options }),
    observe() {
      const name = OBSERVERS[observers++]!
      return enter({
        clientId: name,
        ...(external ? { username: name, password: OBSERVER_PASSWORD } : {}),
      })
    },
    async [Symbol.asyncDispose]() {
      await Promise.all(open.map((client) => client.endAsync(true)))
      await front.stop()
      files?.stop()
      await endBroker()
      dir[Symbol.dispose]()
    },
  }
}
