import type { Logger } from 'pino'
import { layLocalKey } from '../accounts/local-key.ts'
import { openAccounts, type Accounts } from '../accounts/open-accounts.ts'
import { isLoopback, ownNames } from '../accounts/places.ts'
import type { HttpPlace } from '../api/deps.ts'
import type { Config } from '../config/settings.ts'
import { DAY, SECOND, type Clock } from '../model/clock.ts'
import type { GardenStore } from '../store/garden-store.ts'

export interface WiredAccounts {
  readonly accounts: Accounts
  readonly http: HttpPlace
  /** Says in the log what stands open, once the hub listens. */
  warn(): void
  stop(): void
}

/** People and what they may do, and how the hub is reached. */
export async function wireAccounts(options: {
  readonly config: Config
  readonly garden: GardenStore
  readonly clock: Clock
  readonly log: Logger
  readonly onTrouble: (error: unknown) => void
}): Promise<WiredAccounts> {
  const { config, garden, clock, log, onTrouble } = options
  const accounts = await openAccounts({ store: garden, clock, onTrouble })
  const takeLocalKey = layLocalKey(config.dataDir, accounts.localKey)
  const beyond = !isLoopback(config.httpHost)
  return {
    accounts,
    http: {
      beyond,
      names: ownNames(config),
      proxyHeader: config.proxyHeader,
      hstsS: (config.httpHstsDays * DAY) / SECOND,
    },
    warn() {
      if (!beyond) return
      if (!accounts.hasOwner()) {
        log.warn(
          `nobody owns this hub yet: other machines may look, but change nothing. Open its page /sign-in and make the ` +
            `owner with the code ${accounts.ownerCode()}`,
        )
      }
      if (config.httpCertificate !== null) return
      log.warn(
        `the hub listens on ${config.httpHost} without encryption: passwords and readings can be read on the way. ` +
          'Keep it within your own network; LOAMLINE_HTTP_CERTIFICATE turns HTTPS on',
      )
    },
    stop() {
      accounts.stop()
      takeLocalKey()
    },
  }
}
