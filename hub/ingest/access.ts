import { PREFIX } from '../wire/topic.ts'

/*
 * Who may do what at the embedded broker. A client that logs in is a probe and stays within its own part
 * of the topic tree; one that does not is somebody at home with a bare tool.
 */

/** Why a client may not connect, or null. */
export function refuseConnect(clientId: string, user: string | null): string | null {
  return user === null || user === clientId
    ? null
    : `client id ${clientId} and user name ${user} differ: both must be the probe id [LM-02]`
}

/** Why a message may not be written, or null. */
export function refusePublish(topic: string, user: string | null): string | null {
  const [prefix, owner, direction] = topic.split('/')
  if (prefix !== PREFIX || direction !== 'up')
    return `topic: probes write below ${PREFIX}/{id}/up/ only, got ${topic} [LM-30]`
  if (user !== null && owner !== user)
    return `topic: ${user} writes below ${PREFIX}/${user}/up/ only, got ${topic} [LM-02]`
  return null
}

/** Whether a client may read what a topic filter covers. */
export function maySubscribe(filter: string, user: string | null): boolean {
  if (filter.startsWith('$')) return false
  if (user === null) return true
  return filter.startsWith(`${PREFIX}/${user}/dn/`) || filter.startsWith(`${PREFIX}/hub/`)
}

/** Whether a filter can cover messages of probes: someone looks at what comes in. */
export function listensToProbes(filter: string): boolean {
  const [prefix, owner, direction] = filter.split('/')
  if (prefix === '#') return true
  if (prefix !== PREFIX && prefix !== '+') return false
  if (owner === '#') return true
  return owner !== 'hub' && (direction === 'up' || direction === '+' || direction === '#')
}
