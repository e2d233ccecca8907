/** A name in InfluxQL, quoted so that it cannot be anything else. */
export const quoteName = (name: string): string =>
  `"${name.replaceAll('\\', '\\\\').replaceAll('"', '\\"').replaceAll('\n', '\\n')}"`

/** What a field is called that says: the sensor of this channel was tried and failed. */
export const FAILED = '!'

/**
 * The field of a channel. Names of channels are the field's name as they are; whatever could mean something else
 * in line protocol, be taken for a field of the hub's own (they begin with `_`) or for `time`, is written as `%`
 * and its bytes in hexadecimal.
 */
export function fieldOf(channel: string): string {
  if (/^[A-Za-z0-9.-][A-Za-z0-9._-]*$/.test(channel) && channel !== 'time') return channel
  const inside = encodeURIComponent(channel).replace(/[!'()*~]/g, asBytes)
  return inside.replace(/^(_|time$)/, (start) => asBytes(start[0]!) + start.slice(1))
}
const asBytes = (character: string): string =>
  `%${character.charCodeAt(0).toString(16).toUpperCase()}`

/** The channel of a field that is not one of the hub's own. */
export const channelOf = (field: string): string => decodeURIComponent(field)
