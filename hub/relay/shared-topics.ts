import { createHmac } from 'node:crypto'
import { PREFIX } from '../wire/topic.ts'

/** What ingest processes share among each other: the bulk, each message of which stands for itself. */
const BULK = ['r', 'b'] as const
/** What the serving hub hears itself, in order and alone. */
const APART = ['state', 'birth', 'res', 's', 'ch/+', 'v/+'] as const

/**
 * A group that no probe can guess. mosquitto looks at its access list when it hands a message over, not when somebody
 * subscribes: a probe that joined the group would be dealt its part of all readings and be given none of them, and they
 * would be gone. `tests/security/acl.test.ts` shows both.
 */
function guarded(group: string, password: string | null): string {
  if (password === null) return group
  const seal = createHmac('sha256', password).update(`ingest group ${group}`).digest('hex')
  return `${group}-${seal.slice(0, 24)}`
}

/**
 * Subscriptions of an ingest process: of all in a group, one gets each message (MQTT 5, 4.8.2).
 *
 * @param password the one at the broker, which all in the group have; null for a broker that asks for none
 */
export const sharedTopics = (group: string, password: string | null): readonly string[] =>
  BULK.map((leaf) => `$share/${guarded(group, password)}/${PREFIX}/+/up/${leaf}`)

/** Subscriptions of the serving hub. */
export const servedTopics: readonly string[] = APART.map((leaf) => `${PREFIX}/+/up/${leaf}`)

/** Where an ingest process says that it is there. */
export const presenceOf = (clientId: string): string => `${PREFIX}/hub/ingest/${clientId}`
