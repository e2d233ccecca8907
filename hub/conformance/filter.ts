/** True when a subscription filter covers a topic (MQTT 3.1.1, 4.7). */
export function covers(filter: string, topic: string): boolean {
  const asked = filter.split('/')
  const levels = topic.split('/')
  for (const [i, level] of asked.entries()) {
    if (level === '#') return true
    if (levels[i] === undefined || (level !== '+' && level !== levels[i])) return false
  }
  return asked.length === levels.length
}
