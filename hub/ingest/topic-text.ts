/** Topics that are remembered, and the longest of them; probes' are shorter (LM-02, LM-08). */
const PLACES = 8192
const LONGEST = 48

const recent: (string | undefined)[] = Array.from({ length: PLACES })

/**
 * The topic in a stretch of bytes. One that came lately is the same text again and not another one like it: making and
 * comparing texts is a good part of what a message costs.
 */
export function topicText(bytes: Buffer, from: number, to: number): string {
  if (to - from > LONGEST) return bytes.toString('utf8', from, to)
  let sum = 0
  for (let i = from; i < to; i++) sum = (Math.imul(sum, 31) + bytes[i]!) | 0
  const place = (sum ^ (sum >>> 13)) & (PLACES - 1)
  const known = recent[place]
  if (known !== undefined && isText(known, bytes, from, to)) return known
  const text = bytes.toString('utf8', from, to)
  recent[place] = text
  return text
}

/** Whether these bytes are the text, which holds only when all of it is ASCII. */
function isText(text: string, bytes: Buffer, from: number, to: number): boolean {
  if (text.length !== to - from) return false
  for (let i = 0; i < text.length; i++) {
    const code = text.charCodeAt(i)
    if (code > 0x7f || code !== bytes[from + i]) return false
  }
  return true
}
