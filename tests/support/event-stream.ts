/** One event of a stream as a browser would give it to a page. */
export interface StreamEvent {
  readonly event: string
  readonly data: string
  readonly id: string
}

/**
 * Reads server-sent events as they come in pieces (WHATWG HTML, 'Server-sent events', interpretation of the stream).
 * An event that was cut off before its empty line is dropped, as the standard says.
 */
export function eventStream(onEvent: (event: StreamEvent) => void): (piece: string) => void {
  let rest = ''
  let event = ''
  let data: string[] = []
  let id = ''
  return (piece) => {
    rest += piece
    for (let end = rest.indexOf('\n'); end >= 0; end = rest.indexOf('\n')) {
      const line = rest.slice(0, end)
      rest = rest.slice(end + 1)
      if (line === '') {
        if (data.length > 0) onEvent({ event: event || 'message', data: data.join('\n'), id })
        event = ''
        data = []
        continue
      }
      const [, name = '', value = ''] = /^([^:]*):? ?(.*)$/.exec(line) ?? []
      if (name === 'event') event = value
      if (name === 'data') data.push(value)
      if (name === 'id') id = value
    }
  }
}
