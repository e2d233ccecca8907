import type { HubState } from '../api/deps.ts'
import type { Config } from '../config/settings.ts'
import type { Front } from '../ingest/front.ts'
import type { Ingest } from '../ingest/ingest.ts'
import type { ServingRole } from '../relay/open-serving-role.ts'
import type { Stores } from '../store/open.ts'
import { diskOf } from './hub-facts.ts'
import { folderBytes } from './wire-storage.ts'

/**
 * How the hub is at this moment, for whoever asks over HTTP.
 *
 * @param parts.front none before there is one
 * @param parts.serving null when the hub takes readings itself
 */
export function hubState(
  config: Config,
  parts: {
    readonly version: string
    readonly startedAt: number
    readonly demo: boolean
    /** Where the broker is, or will be. */
    readonly brokerAddress: string
    readonly front: Front | undefined
    readonly serving: ServingRole | null
    readonly ingest: Ingest
    readonly stores: Stores
    readonly loading: HubState['loading']
  },
): HubState {
  const { version, startedAt, demo, brokerAddress, front, serving, ingest, stores, loading } = parts
  return {
    version,
    startedAt,
    broker:
      front === undefined
        ? {
            kind: config.brokerUrl === null ? 'embedded' : 'external',
            state: 'connecting',
            address: brokerAddress,
            since: startedAt,
            problem: null,
          }
        : { kind: front.kind, address: front.address, ...front.state() },
    intake: {
      problem: ingest.state().problem,
      settling: stores.settlingProblem(),
      setAside: stores.setAside().map(({ folder }) => folder),
      damaged: () => stores.damaged(),
    },
    intakeLog: serving === null ? null : { ...serving.state(), logs: [...serving.logs()] },
    demo,
    disk: () => diskOf(config.dataDir),
    folderBytes: () => folderBytes(config.dataDir),
    loading,
  }
}
