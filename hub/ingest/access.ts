import { PREFIX, PROBE_ID, RESERVED_IDS } from '../wire/topic.ts'

/*
 * Who may do what at the embedded broker. A client that logs in is a probe and stays within its own part
 * of the topic tree; one that does not is somebody at home with a bare tool, let in while a setting says so.
 */

/** Who is let in without a probe's password: from this machine, from anywhere, nobody. */
export type Strangers = 'local' | 'anyone' | 'nobody'

/** The longest topic of a probe has 45 characters. */
const LONGEST_FILTER = 256
const LOOPBACK = /^(::ffff:)?127\.|^::1$/

/** Whether a stranger is let in who comes from one address to another, `to`, of this machine. */
export function letsIn(strangers: Strangers, from: string | undefined, to?: string): boolean {
  if (strangers !== 'local') return strangers === 'anyone'
  // Whoever calls this machine by its name on the network comes from that same address.
  return from !== undefined && (from === to || LOOPBACK.test(from))
}

/** Why a client may not connect, whatever its password, or null. */
export function refuseConnect(clientId: string, user: string | null): string | null {
  if (user === null) return null
  // A name such as + or # would open the topics of others.
  if (!PROBE_ID.test(user) || RESERVED_IDS.includes(user))
    return 'user name: expected a probe id of 3 to 23 lower-case letters and digits [LM-02]'
  return user === clientId
    ? null
    : `client id ${clientId} and user name ${user} differ: both must be the probe id [LM-02]`
}

/** Why a message may not be written, or null. `needsPassword`: whether a probe has one of its own. */
export function refusePublish(
  topic: string,
  user: string | null,
  needsPassword: (probe: string) => boolean = () => false,
): string | null {
  const [prefix, owner = '', direction] = topic.split('/')
  if (prefix !== PREFIX || direction !== 'up')
    return `topic: probes write below ${PREFIX}/{id}/up/ only, got ${topic} [LM-30]`
  if (user !== null && owner !== user)
    return `topic: ${user} writes below ${PREFIX}/${user}/up/ only, got ${topic} [LM-02]`
  if (user === null && needsPassword(owner))
    return `topic: ${owner} has a password, and this client did not give it [LM-33]`
  return null
}

/** Whether a client may subscribe to a topic filter. */
export function maySubscribe(filter: string, user: string | null): boolean {
  if (filter.startsWith('$') || filter.length > LONGEST_FILTER) return false
  if (user === null) return true
  return filter.startsWith(`${PREFIX}/${user}/dn/`) || filter === `${PREFIX}/hub/state`
}

/** Whether a client may be handed a message, by whatever subscription it came. */
export function mayRead(topic: string, user: string | null): boolean {
  return maySubscribe(topic, user)
}

/** Whether a filter can cover messages of probes: someone looks at what comes in. */
export function listensToProbes(filter: string): boolean {
  const [prefix, owner, direction] = filter.split('/')
  if (prefix === '#') return true
  if (prefix !== PREFIX && prefix !== '+') return false
  if (owner === '#') return true
  return owner !== 'hub' && (direction === 'up' || direction === '+' || direction === '#')
}
