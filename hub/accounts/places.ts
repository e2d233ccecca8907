import { isIP } from 'node:net'

/** Whether an address leads to this machine alone. */
export function isLoopback(address: string): boolean {
  const plain = address.replace(/^::ffff:/i, '').replace(/^\[(.*)\]$/, '$1')
  return plain === '::1' || plain === 'localhost' || (isIP(plain) === 4 && plain.startsWith('127.'))
}

/**
 * Whom a request was passed on for: the last address of an X-Forwarded-For header, the one the proxy next to the hub
 * wrote. Those before it are what somebody said of themselves.
 *
 * @returns null when there is none, or no address
 */
export function passedOnFrom(header: string | readonly string[] | undefined): string | null {
  const last = [header ?? ''].flat().join(',').split(',').at(-1)!.trim()
  return isIP(last) === 0 ? null : last
}

/**
 * What the proxy next to the hub wrote into a Forwarded header (RFC 7239): the last element, as those before it are what
 * somebody said of themselves.
 */
export function lastForwarded(header: string | readonly string[] | undefined): {
  /** Null when it is hidden (`unknown`, `_name`) or no address. */
  readonly address: string | null
  readonly proto: string | null
} {
  const elements: Map<string, string>[] = [new Map()]
  const pair =
    /\s*([!#$%&'*+.^_`|~\w-]+)=(?:"((?:[^"\\]|\\.)*)"|([!#$%&'*+.^_`|~\w-]*))\s*(?:([;,])|$)/gy
  const text = [header ?? ''].flat().join(',')
  let end = 0
  for (const [whole, name = '', quoted, token = '', separator] of text.matchAll(pair)) {
    end += whole.length
    elements.at(-1)!.set(name.toLowerCase(), quoted?.replace(/\\(.)/g, '$1') ?? token)
    if (separator === ',') elements.push(new Map())
  }
  const last = end === text.length ? elements.at(-1)! : new Map<string, string>()
  const node = last.get('for') ?? ''
  const plain = /^\[([0-9a-f:.]+)\](?::\w+)?$/i.exec(node)?.[1] ?? node.replace(/:\w+$/, '')
  return {
    address: isIP(plain) === 0 ? null : plain,
    proto: last.get('proto')?.toLowerCase() ?? null,
  }
}

/** The name in a Host header, small letters and without its port; null when it is none. */
export function hostName(header: string): string | null {
  const parts = /^(\[[0-9a-f:.]+\]|[a-z0-9._-]+)(?::\d{1,5})?$/i.exec(header)
  return parts === null ? null : parts[1]!.toLowerCase().replace(/^\[(.*)\]$/, '$1')
}

/**
 * Whether the hub answers to a name. A page of another site can have its own name lead here (DNS rebinding), but it
 * cannot choose what the Host header says: addresses of the network are safe, names only when they are known.
 *
 * @param names the names the hub is told it has, small letters
 */
export function answersTo(header: string, names: readonly string[]): boolean {
  const name = hostName(header)
  if (name === null) return false
  return isIP(name) !== 0 || name === 'localhost' || names.includes(name)
}

/** The names a process goes by; an address stands for itself, a name it was told to listen on is one of its own. */
export function ownNames(settings: {
  readonly httpHost: string
  readonly httpNames: string | null
}): readonly string[] {
  return [settings.httpHost.toLowerCase(), ...namesIn(settings.httpNames ?? '')]
}

/** The names in a setting: commas or blanks between them. */
export function namesIn(setting: string): readonly string[] {
  return setting
    .toLowerCase()
    .split(/[\s,]+/)
    .filter((name) => name !== '')
}
