/** Lines of a UTF-8 text as the bytes come, numbered from 1; a mark at its beginning is left out. */
export async function* textLines(
  source: AsyncIterable<Uint8Array>,
): AsyncGenerator<{ readonly line: number; readonly text: string }> {
  const decoder = new TextDecoder('utf-8')
  let rest = ''
  let line = 0
  for await (const bytes of source) {
    const parts = (rest + decoder.decode(bytes, { stream: true })).split('\n')
    rest = parts.pop() ?? ''
    for (const text of parts) yield { line: ++line, text }
  }
  rest += decoder.decode()
  if (rest !== '') yield { line: ++line, text: rest }
}
