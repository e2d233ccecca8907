const EVERYWHERE = new Set(['0.0.0.0', '::', '[::]', ''])

/**
 * Host and port to send to, from the broker's address as the hub knows it (`mqtt://host:1883`, `host:1883`).
 * A broker that listens on every interface is reached by the name under which this page was.
 */
export function brokerPlace(address: string, pageHost: string): { host: string; port: string } {
  const bare = address.replace(/^[a-z]+:\/\//, '').replace(/\/.*$/, '')
  const match = /^(\[.*\]|[^:]*)(?::(\d+))?$/.exec(bare)
  const host = match?.[1] ?? ''
  return {
    host: (EVERYWHERE.has(host) ? pageHost : host).replace(/^\[(.*)\]$/, '$1'),
    port: match?.[2] ?? '1883',
  }
}
