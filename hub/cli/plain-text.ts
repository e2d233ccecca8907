/**
 * Characters that do something at a terminal instead of being seen: controls (also those above 127), line and
 * paragraph separators, and what turns the direction of writing.
 */
// oxlint-disable-next-line no-control-regex -- those are looked for
const ACTS = /[\u0000-\u001f\u007f-\u009f\u2028\u2029\u200e\u200f\u202a-\u202e\u2066-\u2069\ufeff]/g
const CLIPPED = 8000

/** A topic may have four thousand characters; a log is to be read. */
const clipped = (text: string): string =>
  text.length > CLIPPED ? `${text.slice(0, CLIPPED - 1)}…` : text
const escaped = (text: string): string =>
  text.replace(ACTS, (c) => `\\u${c.charCodeAt(0).toString(16).padStart(4, '0')}`)

/** Text of others as one line that does nothing at a terminal but stand there. */
export const oneLine = (text: string): string => escaped(clipped(text))

/** The same in as many lines as it has. `before`: what lines after the first begin with. */
export const plainText = (text: string, before = ''): string =>
  clipped(text)
    .split('\n')
    .map((line) => escaped(line.replaceAll('\t', '  ')))
    .join(`\n${before}`)

/** Characters within a line of JSON that act at a terminal, as JSON can spell them; it stays the same JSON. */
export const quietJson = (line: string): string =>
  escaped(line.replace(/\n$/, '')) + (line.endsWith('\n') ? '\n' : '')
