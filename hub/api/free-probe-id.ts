import { RESERVED_PROBE_IDS } from './schemas/common.ts'

/** Longest id is 23 characters: room for a number is left. */
const STEM = 20

/** An id nobody has yet, like the name of the probe: 'Nördlich 2' becomes nordlich2. */
export function freeProbeId(name: string, taken: ReadonlySet<string>): string {
  const letters = name
    .normalize('NFKD')
    .toLowerCase()
    .replaceAll(/[^a-z0-9]/g, '')
    .replace(/^\d+/, '')
    .slice(0, STEM)
  const stem = letters.length < 3 ? 'probe' : letters
  const isFree = (id: string): boolean => !taken.has(id) && !RESERVED_PROBE_IDS.includes(id)
  if (isFree(stem)) return stem
  let number = 2
  while (!isFree(`${stem}${number}`)) number++
  return `${stem}${number}`
}
