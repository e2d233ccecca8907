/** The first sentence of a text, and the rest. */
export function opening(text: string): readonly [string, string] {
  const end = text.indexOf('. ')
  return end < 0 ? [text, ''] : [text.slice(0, end + 1), text.slice(end + 2)]
}
