import type { InfluxClient } from './influx-client.ts'

export interface WaitingLine {
  readonly i: number
  readonly line: string
}

/**
 * Sends lines and finds those that are not taken by halving what is sent: sending a line again changes nothing,
 * and servers do not always say which one it was.
 *
 * @throws HubError HUB_STORE_UNAVAILABLE: send all of it again
 */
export async function deliver(
  client: Pick<InfluxClient, 'write'>,
  rows: readonly WaitingLine[],
): Promise<{ readonly i: number; readonly why: string }[]> {
  const { refused } = await client.write(rows.map(({ line }) => line))
  if (refused === null) return []
  const dropped = Number(/dropped=(\d+)/.exec(refused)?.[1] ?? 0)
  if (rows.length === 1 || dropped >= rows.length) return rows.map(({ i }) => ({ i, why: refused }))
  const half = rows.length >> 1
  return [
    ...(await deliver(client, rows.slice(0, half))),
    ...(await deliver(client, rows.slice(half))),
  ]
}
