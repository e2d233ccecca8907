const DAY = 86_400_000
/** A stretch of time that ends this near to now is 'the newest one' of its length. */
const NEWEST_MS = 2 * DAY

/** What is worth reading without a connection. Passwords, backups, exports and what is shared with others is not here. */
const KEPT = [
  /^\/api\/(who|garden|crops|textures|buffers|beds|probes|losses|health|alarms|journal|ahead|plans|trials|review|planning-settings)$/,
  /^\/api\/beds\/\d+(\/(journal|series|findings|quality|photos|measuring|plans|decision|soil|soil-tests))?$/,
  /^\/api\/alarms\/\d+$/,
  /^\/api\/probes\/[a-z][a-z0-9]{2,22}(\/series)?$/,
]

/**
 * The name under which an answer of the hub is kept, for reading it without a connection; null when it is never
 * kept. The newest day, week or season of a thing has one name, however its ends move on. `now` in epoch ms.
 */
export function keptAs({ pathname, searchParams }: URL, now: number): string | null {
  if (!KEPT.some((path) => path.test(pathname))) return null
  const asked = [...searchParams].toSorted(([a], [b]) => (a < b ? -1 : 1))
  const from = Number(searchParams.get('from') ?? Number.NaN)
  const to = Number(searchParams.get('to') ?? Number.NaN)
  const newest = to > from && Math.abs(to - now) < Math.max(NEWEST_MS, (to - from) / 10)
  const named = newest
    ? [
        ...asked.filter(([name]) => name !== 'from' && name !== 'to'),
        ['days', String(Math.round((to - from) / DAY))],
      ]
    : asked
  return `${pathname}?${named.map((pair) => pair.join('=')).join('&')}`
}

/** Header of an answer that was kept: when it came, epoch ms. */
export const KEPT_AT = 'loamline-kept-at'
