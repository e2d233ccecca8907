/** A host as it stands in an address: IPv6 in brackets (RFC 3986, 3.2.2). */
export function urlHost(host: string): string {
  return host.includes(':') ? `[${host}]` : host
}

/** Listening at every address of the machine. */
export const isEverywhere = (host: string): boolean => host === '0.0.0.0' || host === '::'

/** Where a program on this machine reaches what listens on a host: nobody can call every address. */
export const callableHost = (host: string): string => (isEverywhere(host) ? '127.0.0.1' : host)

/**
 * What an address is counted under: IPv4 by itself, IPv6 by its network of 64 bits, of which one customer has all
 * addresses (RFC 6177).
 */
export function networkOf(address: string): string {
  const plain = address.replace(/^::ffff:(?=\d+\.)/i, '')
  if (!plain.includes(':')) return plain
  const [head = '', tail] = plain.split('%')[0]!.split('::')
  const left = head.split(':').filter((part) => part !== '')
  const right = (tail ?? '').split(':').filter((part) => part !== '')
  const zeros = tail === undefined ? 0 : 8 - left.length - right.length
  const all = [...left, ...Array.from({ length: zeros }, () => '0'), ...right]
  return all
    .slice(0, 4)
    .map((part) => Number.parseInt(part, 16).toString(16))
    .join(':')
}
