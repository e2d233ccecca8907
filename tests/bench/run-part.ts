import { PARTS } from './parts.ts'

/*
 * Runs one part in a process of its own, so that nothing one part leaves in memory weighs on the next.
 * Its rows go to the parent.
 */
const name = process.argv[2] ?? ''
const load = PARTS[name]
if (load === undefined || process.send === undefined) {
  throw new Error(`expected a part (${Object.keys(PARTS).join(', ')}) and a parent, got '${name}'`)
}
const part = await load()
process.send(await part.rows(), () => process.exit(0))
