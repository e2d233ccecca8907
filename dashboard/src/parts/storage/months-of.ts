import { say } from '../../say.ts'

const LEAST = 3
const MOST = 600

/** Whole months out of what somebody typed, or why not. */
export function monthsOf(
  text: string,
):
  | { readonly value: number; readonly error: null }
  | { readonly value: null; readonly error: string } {
  const value = /^\s*\d+\s*$/.test(text) ? Number(text) : NaN
  return value >= LEAST && value <= MOST
    ? { value, error: null }
    : { value: null, error: say`expected whole months from ${LEAST} to ${MOST}` }
}
