import type { Credential } from '#hub/model/credential.ts'
import type { GardenStore } from '#hub/store/garden-store.ts'

/** The part of a garden store that passwords of probes use, in memory. */
export interface MemoryCredentials extends Pick<GardenStore, 'credentials' | 'setCredential'> {
  readonly stored: Map<string, Credential>
}

export function memoryCredentials(): MemoryCredentials {
  const stored = new Map<string, Credential>()
  return {
    stored,
    credentials: async () => [...stored.values()],
    async setCredential(credential) {
      stored.set(credential.probe, credential)
    },
  }
}
