/** Sentences remembered as told. */
const REMEMBERED = 1000

/**
 * Passes a warning on the first time it comes up. What differs in numbers only is the same, unless `alike` says
 * what makes it the same.
 */
export function createWarnOnce(
  warn: (message: string) => void,
): (topic: string, reason: string, alike?: string) => void {
  const warned = new Set<string>()
  return (topic, reason, alike = `${topic} ${reason}`) => {
    const key = alike.replaceAll(/\d+/g, '#')
    if (warned.has(key)) return
    if (warned.size >= REMEMBERED) warned.clear()
    warned.add(key)
    warn(`${topic}: ${reason}`)
  }
}
