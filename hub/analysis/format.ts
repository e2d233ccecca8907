/** pH with one decimal, as a gardener speaks of it. */
export function ph1(ph: number): string {
  return ph.toFixed(1)
}

export function bandText(band: { readonly low: number; readonly high: number }): string {
  return `${trimmed(band.low)} to ${trimmed(band.high)}`
}

function trimmed(ph: number): string {
  const two = ph.toFixed(2)
  return two.endsWith('0') ? two.slice(0, -1) : two
}

/** 'a', 'a and b', 'a, b and c'. */
export function listed(names: readonly string[]): string {
  const last = names.at(-1)
  if (last === undefined) return ''
  return names.length === 1 ? last : `${names.slice(0, -1).join(', ')} and ${last}`
}

/** A length of time in words, roughly: '40 minutes', '3 hours', '5 days'. */
export function lasting(ms: number): string {
  const minutes = Math.max(1, Math.round(ms / 60_000))
  if (minutes < 90) return counted(minutes, 'minute')
  const hours = Math.round(minutes / 60)
  return hours < 48 ? counted(hours, 'hour') : counted(Math.round(hours / 24), 'day')
}

export function counted(n: number, noun: string): string {
  return `${n} ${noun}${n === 1 ? '' : 's'}`
}
