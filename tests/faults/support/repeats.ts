/**
 * A size from the environment, with what it is when nothing is said. A slip is an error: a run that quietly
 * did less would pass for the long one.
 */
export function repeats(name: string, otherwise: number): number {
  const said = process.env[name]
  if (said === undefined || said === '') return otherwise
  if (!/^[1-9]\d{0,5}$/.test(said))
    throw new Error(`${name}: expected a whole number, got '${said}'`)
  return Number(said)
}
