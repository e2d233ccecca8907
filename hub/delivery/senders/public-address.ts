import { lookup as resolveName, type LookupAddress } from 'node:dns'
import { BlockList, isIP, type LookupFunction } from 'node:net'

/** Networks that are no part of the public Internet, by the registries of RFC 6890 (from memory). */
const CLOSED = new BlockList()
for (const [net, bits] of [
  ['0.0.0.0', 8],
  ['10.0.0.0', 8],
  ['100.64.0.0', 10],
  ['127.0.0.0', 8],
  ['169.254.0.0', 16],
  ['172.16.0.0', 12],
  ['192.0.0.0', 24],
  ['192.0.2.0', 24],
  ['192.88.99.0', 24],
  ['192.168.0.0', 16],
  ['198.18.0.0', 15],
  ['198.51.100.0', 24],
  ['203.0.113.0', 24],
  ['224.0.0.0', 4],
  ['240.0.0.0', 4],
] as const) {
  CLOSED.addSubnet(net, bits, 'ipv4')
}
/** Of IPv6 only the global unicast space is public, without the parts of it that lead elsewhere. */
const OPEN6 = new BlockList()
OPEN6.addSubnet('2000::', 3, 'ipv6')
const CLOSED6 = new BlockList()
for (const [net, bits] of [
  // Teredo, documentation (also RFC 9637), 6to4: an IPv4 address may hide in the first and the last.
  ['2001::', 23],
  ['2001:db8::', 32],
  ['2002::', 16],
  ['3fff::', 20],
] as const) {
  CLOSED6.addSubnet(net, bits, 'ipv6')
}

/** Whether an IP address is one of the public Internet: neither this machine nor anything near it. */
export function isPublicAddress(address: string): boolean {
  // A zone belongs to link-local addresses alone.
  if (address.includes('%')) return false
  if (isIP(address) === 4) return !CLOSED.check(address, 'ipv4')
  if (isIP(address) !== 6) return false
  // An IPv4 address in the clothes of IPv6 lies outside 2000::/3 and is refused with the rest.
  return OPEN6.check(address, 'ipv6') && !CLOSED6.check(address, 'ipv6')
}

/** Why a host may not be reached; for people. */
export class PrivateTarget extends Error {
  override readonly name = 'PrivateTarget'
  constructor(host: string, address: string) {
    super(
      host === address
        ? `${address} is an address of a private network or of this machine`
        : `${host} leads to ${address}, an address of a private network or of this machine`,
    )
  }
}

type Resolve = (
  host: string,
  done: (error: Error | null, found: readonly LookupAddress[]) => void,
) => void
const byDns: Resolve = (host, done) => resolveName(host, { all: true }, done)

/**
 * Looks a name up and hands on the addresses to connect to, all of which were checked: what is connected to is what
 * was checked, however the name is answered a moment later.
 */
export function publicLookup(resolve: Resolve = byDns): LookupFunction {
  return (host, options, done) => {
    resolve(host, (error, found) => {
      const bad = found?.find(({ address }) => !isPublicAddress(address))
      const [first] = found ?? []
      if (error !== null) done(error, '')
      else if (bad !== undefined) done(new PrivateTarget(host, bad.address), '')
      else if (first === undefined) done(new Error(`${host} has no address`), '')
      else if (options.all === true) done(null, [...found])
      else done(null, first.address, first.family)
    })
  }
}

/** Throws PrivateTarget when the host is written as an address that is not public; a name is looked up later. */
export function refusePrivateLiteral(hostname: string): void {
  const address = hostname.replace(/^\[(.*)\]$/, '$1')
  if (isIP(address) !== 0 && !isPublicAddress(address)) throw new PrivateTarget(address, address)
}
