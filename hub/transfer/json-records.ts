/** The text of one object of a JSON array, or why the file is no such array from here on. */
export type JsonRecord =
  | { readonly line: number; readonly number: number; readonly text: string }
  | { readonly line: number; readonly number: number; readonly trouble: JsonTrouble }
export type JsonTrouble = 'no array' | 'no object' | 'too long' | 'broke off' | 'more behind it'

/** A record holds one measurement; a longer one is text that was never closed. */
const LONGEST = 64 * 1024
const [QUOTE, BACKSLASH, OPEN, CLOSE, BEGIN, END, COMMA, LINE] = Array.from('"\\{}[],\n', (c) =>
  c.charCodeAt(0),
)
type State = 'start' | 'first' | 'object' | 'comma' | 'within' | 'done'
const isBlank = (code: number): boolean => code === 32 || (code >= 9 && code <= 13)

/**
 * Cuts a file that is one array of objects into the texts of those objects as the bytes come, so that it need not fit
 * into memory. Lines and objects are numbered from 1. What is within an object is not looked at here.
 */
export async function* jsonRecords(source: AsyncIterable<Uint8Array>): AsyncGenerator<JsonRecord> {
  const decoder = new TextDecoder('utf-8')
  // The compiler does not see that the generator below changes it.
  let state = 'start' as State
  let [line, number, began, depth] = [1, 0, 1, 0]
  let [quoted, escaped] = [false, false]
  let text = ''

  function* cut(chunk: string): Generator<JsonRecord, boolean> {
    let from = 0
    for (let i = 0; i < chunk.length; i++) {
      const code = chunk.charCodeAt(i)
      if (code === LINE) line++
      if (state === 'within') {
        if (escaped) escaped = false
        else if (quoted) {
          if (code === BACKSLASH) escaped = true
          else if (code === QUOTE) quoted = false
        } else if (code === QUOTE) quoted = true
        else if (code === OPEN || code === BEGIN) depth++
        else if ((code === CLOSE || code === END) && --depth === 0) {
          yield { line: began, number, text: text + chunk.slice(from, i + 1) }
          text = ''
          state = 'comma'
        }
        if (state === 'within' && text.length + i - from > LONGEST) {
          yield { line: began, number, trouble: 'too long' }
          return false
        }
        continue
      }
      if (isBlank(code)) continue
      if (state === 'start' && code === BEGIN) state = 'first'
      else if (state === 'comma' && code === COMMA) state = 'object'
      else if ((state === 'first' || state === 'comma') && code === END) state = 'done'
      else if ((state === 'first' || state === 'object') && code === OPEN) {
        state = 'within'
        number++
        ;[began, depth, from] = [line, 1, i]
      } else {
        const trouble =
          state === 'start' ? 'no array' : state === 'done' ? 'more behind it' : 'no object'
        yield { line, number: number + 1, trouble }
        return false
      }
    }
    if (state === 'within') text += chunk.slice(from)
    return true
  }

  for await (const bytes of source) {
    if (!(yield* cut(decoder.decode(bytes, { stream: true })))) return
  }
  if (!(yield* cut(decoder.decode()))) return
  if (state !== 'done') {
    const trouble = state === 'start' ? 'no array' : 'broke off'
    yield { line, number: number + (state === 'within' ? 0 : 1), trouble }
  }
}
