/** A longer line is no reading; of it only this much is kept. */
export const LONGEST_LINE = 64 * 1024

/** A line of a text; `cut`: it was longer than LONGEST_LINE and only its beginning is here. */
export interface TextLine {
  readonly line: number
  readonly text: string
  readonly cut: boolean
}

/** Lines of a UTF-8 text as the bytes come, numbered from 1; a mark at its beginning is left out. */
export async function* textLines(source: AsyncIterable<Uint8Array>): AsyncGenerator<TextLine> {
  const decoder = new TextDecoder('utf-8')
  let rest = ''
  let cut = false
  let line = 0
  const add = (text: string): void => {
    cut ||= rest.length + text.length > LONGEST_LINE
    rest = (rest + text).slice(0, LONGEST_LINE)
  }
  const take = (): TextLine => {
    const taken = { line: ++line, text: rest, cut }
    rest = ''
    cut = false
    return taken
  }
  for await (const bytes of source) {
    const parts = decoder.decode(bytes, { stream: true }).split('\n')
    for (const [i, part] of parts.entries()) {
      add(part)
      if (i < parts.length - 1) yield take()
    }
  }
  add(decoder.decode())
  if (rest !== '') yield take()
}
