import type { InfluxClient } from './influx-client.ts'

/**
 * Sends lines and finds those that are not taken by halving what is sent: sending a line again changes nothing,
 * and servers do not always say which one it was.
 *
 * @throws HubError HUB_STORE_UNAVAILABLE: send all of it again
 */
export async function deliver(
  client: Pick<InfluxClient, 'write'>,
  lines: readonly string[],
): Promise<{ readonly line: string; readonly why: string }[]> {
  const { refused } = await client.write(lines)
  if (refused === null) return []
  const dropped = Number(/dropped=(\d+)/.exec(refused)?.[1] ?? 0)
  if (lines.length === 1 || dropped >= lines.length) {
    return lines.map((line) => ({ line, why: refused }))
  }
  const half = lines.length >> 1
  return [
    ...(await deliver(client, lines.slice(0, half))),
    ...(await deliver(client, lines.slice(half))),
  ]
}
