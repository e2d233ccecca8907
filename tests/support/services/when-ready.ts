import type { ServiceKind } from './service-kind.ts'

const LIMIT_MS = 30_000
const EVERY_MS = 20

/**
 * Resolves when a service answers its own protocol; an open port alone says nothing.
 *
 * @param ended tells what a service that has ended wrote, null while it runs
 */
export async function whenReady(
  kind: ServiceKind,
  port: number,
  ended: () => Promise<string | null>,
): Promise<void> {
  const end = performance.now() + LIMIT_MS
  for (;;) {
    const last = await ended()
    if (last !== null) throw new Error(`${kind.name} ended before it was ready:\n${last}`)
    if (await kind.answers(port)) return
    if (performance.now() > end)
      throw new Error(`${kind.name} did not answer on 127.0.0.1:${port} within ${LIMIT_MS} ms`)
    await new Promise((resolve) => setTimeout(resolve, EVERY_MS))
  }
}
