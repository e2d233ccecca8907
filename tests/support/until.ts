/** Waits until `probe` gives something other than undefined, null or false; fails after `ms`. */
export async function until<T>(
  what: string,
  probe: () => T | Promise<T>,
  ms = 10_000,
): Promise<NonNullable<T>> {
  const end = performance.now() + ms
  for (;;) {
    const value = await probe()
    if (value !== undefined && value !== null && value !== false) return value
    if (performance.now() > end) throw new Error(`not within ${ms} ms: ${what}`)
    await new Promise((resolve) => setTimeout(resolve, 10))
  }
}
