import { MINUTE, type Clock } from '../model/clock.ts'

/** Lines in a minute; a client that is in trouble makes one for each try. */
const MOST = 60

/**
 * Says so many lines a minute and counts the rest, so that nobody can fill the disk with the log: who is turned away
 * at the door comes again at once.
 */
export function seldom(write: (text: string) => void, clock: Clock): (text: string) => void {
  let from = -Infinity
  let said = 0
  let hushed = 0
  return (text) => {
    const now = clock()
    if (now - from >= MINUTE || now < from) {
      if (hushed > 0) write(`${hushed} more lines like the last ones were left out`)
      from = now
      said = 0
      hushed = 0
    }
    if (said < MOST) write(text)
    else hushed++
    said++
  }
}
