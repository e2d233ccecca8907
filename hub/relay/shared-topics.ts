import { PREFIX } from '../wire/topic.ts'

/** What ingest processes share among each other: the bulk, each message of which stands for itself. */
const BULK = ['r', 'b'] as const
/** What the serving hub hears itself, in order and alone. */
const APART = ['state', 'birth', 'res', 's', 'ch/+', 'v/+'] as const

/** Subscriptions of an ingest process: of all in a group, one gets each message (MQTT 5, 4.8.2). */
export const sharedTopics = (group: string): readonly string[] =>
  BULK.map((leaf) => `$share/${group}/${PREFIX}/+/up/${leaf}`)

/** Subscriptions of the serving hub. */
export const servedTopics: readonly string[] = APART.map((leaf) => `${PREFIX}/+/up/${leaf}`)

/** Where an ingest process says that it is there. */
export const presenceOf = (clientId: string): string => `${PREFIX}/hub/ingest/${clientId}`
