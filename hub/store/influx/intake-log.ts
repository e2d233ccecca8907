import { HubError } from '../../errors.ts'
import type { IntakeLog, LoggedMessage, LogName, Taken } from '../intake-log.ts'
import type { SpooledMessage } from '../spool-store.ts'
import type { InfluxClient, InfluxRow } from './influx-client.ts'

/*
 * Four measurements, all times in nanoseconds since 1970 that are no times:
 *
 *   intake,writer=w,spool=s  topic payload arrived sent flags [refused]   time: the number of the message
 *   taken,writer=w,spool=s   row looks                                    time: 0, so that there is one
 *   writer,writer=w          beat                                         time: 0
 *   reader                   hub beat                                     time: 0
 *
 * The same message again is the same point. What is not plain text stands in base64 in a field with a 64 behind
 * its name. All numbers are floats, because the first write fixes the type.
 */

const DELAYED = 1
const RETAINED = 2
const REFUSED = 4
const MESSAGE_FIELDS = 'topic, topic64, payload, payload64, arrived, sent, flags, refused'
const utf8 = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true })

/** The logs in InfluxDB, in a database of their own. */
export function openIntakeLog(client: InfluxClient): IntakeLog {
  async function write(lines: readonly string[]): Promise<void> {
    const { refused } = await client.write(lines, { precision: 'ns' })
    if (refused === null) return
    // Nothing may be left out of this log, so what was refused stays with whoever wanted to write it.
    throw new HubError(
      'HUB_STORE_UNAVAILABLE',
      `InfluxDB does not take messages into the log: ${refused}. Its database needs a retention policy without ` +
        'an end.',
      { retry: true },
    )
  }
  const ask = (
    statement: string,
    params?: Readonly<Record<string, unknown>>,
  ): Promise<readonly InfluxRow[]> => client.query(statement, params, { epoch: 'ns' })

  return {
    ready: () => client.ready(),
    append: (name, messages, sentAt) =>
      write(messages.map((message) => lineOf(name, message, sentAt))),
    async newest() {
      const rows = await ask('SELECT last(arrived) FROM intake GROUP BY writer, spool')
      return rows.map((row) => ({ ...nameOf(row), row: numberOf(row['time']) }))
    },
    async after(name, row, limit) {
      const rows = await ask(
        `SELECT ${MESSAGE_FIELDS} FROM intake WHERE writer = $writer AND spool = $spool ` +
          `AND time > ${whole(row)} ORDER BY time LIMIT ${whole(limit)}`,
        { ...name },
      )
      return rows.flatMap(messageOf)
    },
    async trim({ writer, spool }, row) {
      // DELETE takes no parameters; both are names that need no escaping, and are held to that here.
      await ask(
        `DELETE FROM intake WHERE writer = ${quoted(writer)} AND spool = ${quoted(spool)} ` +
          `AND time <= ${whole(row)}`,
      )
    },
    async tell(taken, { hub, beat }) {
      await write([
        ...taken.map(
          ({ row, looks, ...name }) =>
            `taken,${tagsOf(name)} row=${whole(row)},looks=${whole(looks)} 0`,
        ),
        `reader hub=${textField(hub)},beat=${whole(beat)} 0`,
      ])
    },
    async takenOf(name) {
      const [row] = await ask(
        'SELECT row, looks FROM taken WHERE writer = $writer AND spool = $spool',
        { ...name },
      )
      if (row === undefined) return null
      return { ...name, row: numberOf(row['row']), looks: numberOf(row['looks']) } satisfies Taken
    },
    beat: (writer, beat) => write([`writer,writer=${plainName(writer)} beat=${whole(beat)} 0`]),
    async beats() {
      const rows = await ask('SELECT beat FROM writer GROUP BY writer')
      return rows.map((row) => ({ writer: String(row['writer']), beat: numberOf(row['beat']) }))
    },
    async reader() {
      const [row] = await ask('SELECT hub, beat FROM reader')
      return row === undefined ? null : { hub: String(row['hub']), beat: numberOf(row['beat']) }
    },
    close: () => client.close(),
  }
}

function lineOf(name: LogName, message: SpooledMessage, sentAt: number): string {
  const flags =
    (message.mayBeDelayed ? DELAYED : 0) +
    (message.retain ? RETAINED : 0) +
    (message.refused === undefined ? 0 : REFUSED)
  const fields = [
    fieldOf('topic', Buffer.from(message.topic)),
    fieldOf('payload', message.payload),
    `arrived=${whole(message.arrivedAt)}`,
    `sent=${whole(sentAt)}`,
    ...(message.refused === undefined ? [] : [`refused=${textField(message.refused)}`]),
    `flags=${flags}`,
  ]
  return `intake,${tagsOf(name)} ${fields.join(',')} ${whole(message.row)}`
}

/** As text where it is printable, so that a person can read the log; else in base64. */
function fieldOf(name: string, bytes: Uint8Array): string {
  const text = printable(bytes)
  return text === null
    ? `${name}64="${Buffer.from(bytes).toString('base64')}"`
    : `${name}=${textField(text)}`
}

function printable(bytes: Uint8Array): string | null {
  try {
    const text = utf8.decode(bytes)
    return /[\p{C}\p{Zl}\p{Zp}]/u.test(text) ? null : text
  } catch {
    return null
  }
}

const textField = (text: string): string =>
  `"${text.replaceAll('\\', '\\\\').replaceAll('"', '\\"').replaceAll('\n', ' ')}"`

/** Client ids and ids of spools: nothing in them means anything to line protocol or InfluxQL. */
function plainName(text: string): string {
  if (/^[A-Za-z0-9-]+$/.test(text)) return text
  throw new Error(`expected letters, digits and hyphens, got ${JSON.stringify(text)}`)
}
const tagsOf = ({ writer, spool }: LogName): string =>
  `writer=${plainName(writer)},spool=${plainName(spool)}`
const quoted = (text: string): string => `'${plainName(text)}'`

function whole(value: number): string {
  if (Number.isSafeInteger(value)) return String(value)
  throw new Error(`expected a whole number, got ${value}`)
}

const nameOf = (row: InfluxRow): LogName => ({
  writer: String(row['writer']),
  spool: String(row['spool']),
})

function numberOf(value: unknown): number {
  return typeof value === 'number' ? value : 0
}

/** A message with all its parts, or nothing: a write under way shows some fields before others. */
function messageOf(row: InfluxRow): readonly LoggedMessage[] {
  const topic = bytesOf(row, 'topic')
  const payload = bytesOf(row, 'payload')
  const { arrived, sent, flags, time, refused } = row
  const numbers = [arrived, sent, flags, time]
  if (topic === null || payload === null || numbers.some((n) => typeof n !== 'number')) return []
  const bits = numberOf(flags)
  if ((bits & REFUSED) !== 0 && typeof refused !== 'string') return []
  return [
    {
      row: numberOf(time),
      topic: topic.toString(),
      payload,
      arrivedAt: numberOf(arrived),
      sentAt: numberOf(sent),
      mayBeDelayed: (bits & DELAYED) !== 0,
      retain: (bits & RETAINED) !== 0,
      ...(typeof refused === 'string' ? { refused } : {}),
    },
  ]
}

function bytesOf(row: InfluxRow, name: string): Buffer | null {
  const text = row[name]
  if (typeof text === 'string') return Buffer.from(text)
  const packed = row[`${name}64`]
  return typeof packed === 'string' ? Buffer.from(packed, 'base64') : null
}
