import { randomBytes } from 'node:crypto'
import { open, rename, rm } from 'node:fs/promises'
import { join } from 'node:path'
import { HubError } from '../errors.ts'
import type { Credential } from '../model/credential.ts'
import { SECOND } from '../model/clock.ts'
import { makePath } from '../store/make-path.ts'
import { PREFIX, PROBE_ID, RESERVED_IDS } from '../wire/topic.ts'
import { brokerHash } from './password.ts'

/** Names of the two files in their folder. */
export const PASSWORD_FILE = 'passwords'
export const ACCESS_FILE = 'access'
/** Account of other programs, which read what the hub says and nothing else; no probe can have that name. */
export const READER = 'hub-reader'

const AGAIN_MS = 30 * SECOND

/** The hub's own account at the broker, and that of who reads what it says. */
export interface HubAccount {
  readonly user: string
  readonly brokerHash: string
  /** Null: there is none. */
  readonly readerHash: string | null
}

/**
 * The hub's own account for the files: under a name that no probe can have, so that no probe is the hub.
 *
 * @throws HubError HUB_CONFIG
 */
export async function hubAccount(
  user: string | null,
  password: string | null,
  readerPassword: string | null = null,
): Promise<HubAccount> {
  const expected = (what: string): HubError =>
    new HubError('HUB_CONFIG', `LOAMLINE_BROKER_FILES: expected ${what}`, { retry: false })
  if (user === null || password === null) {
    throw expected(
      'LOAMLINE_BROKER_USER and LOAMLINE_BROKER_PASSWORD beside it: the hub is in the files too',
    )
  }
  const free = (!PROBE_ID.test(user) || RESERVED_IDS.includes(user)) && user !== READER
  if (!free || !/^[\w.@-]{1,64}$/.test(user)) {
    throw expected(
      `a LOAMLINE_BROKER_USER that no probe can have, such as hub or garden-hub, got ${user}`,
    )
  }
  return {
    user,
    brokerHash: await brokerHash(password),
    readerHash: readerPassword === null ? null : await brokerHash(readerPassword),
  }
}

/** Lines of mosquitto's password file: the hub, who reads what it says, then every probe whose password holds. */
export function passwordFile(hub: HubAccount, credentials: readonly Credential[]): string {
  const lines = credentials.flatMap((c) =>
    c.brokerHash === null ? [] : [`${c.probe}:${c.brokerHash}`],
  )
  const reader = hub.readerHash === null ? [] : [`${READER}:${hub.readerHash}`]
  return [`${hub.user}:${hub.brokerHash}`, ...reader, ...lines, ''].join('\n')
}

/**
 * mosquitto's access list: a probe writes below its own `up/` and reads its own `dn/` and the hub's state.
 * By user name (`%u`): a client id is the client's own choice.
 *
 * @param reader whether there is an account that reads what the hub says
 */
export function accessFile(user: string, reader = false): string {
  return [
    '# Written by the hub; changes are lost.',
    `pattern write ${PREFIX}/%u/up/#`,
    `pattern read ${PREFIX}/%u/dn/#`,
    `pattern read ${PREFIX}/hub/state`,
    '',
    `user ${user}`,
    `topic read ${PREFIX}/+/up/#`,
    // Ingest processes hear their own word there, and so know when the backlog has been delivered.
    `topic read ${PREFIX}/hub/ingest/#`,
    `topic write ${PREFIX}/+/dn/#`,
    `topic write ${PREFIX}/hub/#`,
    '',
    ...(reader ? [`user ${READER}`, ...READER_RIGHTS, ''] : []),
  ].join('\n')
}

const READER_RIGHTS = [
  // The patterns above hold for everybody.
  `topic deny ${PREFIX}/${READER}/#`,
  `topic read ${PREFIX}/hub/#`,
]

/** Replaces a file whole, readable by its owner alone: a reader sees the old one or the new one. */
export async function replaceFile(path: string, text: string): Promise<void> {
  const draft = `${path}.${randomBytes(6).toString('hex')}`
  try {
    const file = await open(draft, 'wx', 0o600)
    try {
      await file.writeFile(text)
      await file.sync()
    } finally {
      await file.close()
    }
    await rename(draft, path)
  } catch (error) {
    await rm(draft, { force: true })
    throw error
  }
}

export interface BrokerFiles {
  /**
   * Writes both files. What cannot be written is tried again by itself until it can.
   *
   * @throws HubError HUB_STORE_UNAVAILABLE
   */
  write(credentials: readonly Credential[]): Promise<void>
  stop(): void
}

/** Keeps password file and access list of a broker of one's own in a folder. */
export function createBrokerFiles(
  folder: string,
  hub: HubAccount,
  onTrouble: (message: string) => void,
): BrokerFiles {
  let tail: Promise<unknown> = Promise.resolve()
  let timer: NodeJS.Timeout | undefined
  let newest: readonly Credential[] = []

  async function both(): Promise<void> {
    try {
      makePath(folder, 0o700)
      await replaceFile(join(folder, PASSWORD_FILE), passwordFile(hub, newest))
      await replaceFile(join(folder, ACCESS_FILE), accessFile(hub.user, hub.readerHash !== null))
    } catch (cause) {
      const problem = `the broker's password file in ${folder} cannot be written: ${(cause as Error).message}`
      clearTimeout(timer)
      timer = setTimeout(() => {
        write(newest).catch((error: unknown) => onTrouble((error as Error).message))
      }, AGAIN_MS).unref()
      throw new HubError('HUB_STORE_UNAVAILABLE', problem, { retry: true, cause })
    }
  }

  function write(credentials: readonly Credential[]): Promise<void> {
    newest = credentials
    const done = tail.then(both)
    tail = done.catch(() => {})
    return done
  }

  return { write, stop: () => clearTimeout(timer) }
}
