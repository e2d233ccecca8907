import { HubError } from '#hub/errors.ts'
import type { IntakeLog, LoggedMessage, LogName, Reader, Taken } from '#hub/store/intake-log.ts'

const keyOf = ({ writer, spool }: LogName): string => `${writer}/${spool}`

/** The logs in memory, to be made to fail, to lose and to lag. */
export interface MemoryIntakeLog {
  readonly port: IntakeLog
  /** While true every call is refused, as when the database is away. */
  away: boolean
  /** While true nothing is deleted, as in a database that has no word for it. */
  keepsAll: boolean
  /** Calls that were refused. */
  refusals(): number
  /** Rows of one log that are there, ascending. */
  rows(name: LogName): readonly number[]
  names(): readonly LogName[]
  /** Takes rows out of a log, as a database that was put back from a copy does. */
  lose(name: LogName, from: number, to: number): void
  /** What the reader said of a log. */
  taken(name: LogName): Taken | null
  /** Makes another hub the reader. */
  setReader(reader: Reader | null): void
  reader(): Reader | null
}

export function memoryIntakeLog(): MemoryIntakeLog {
  const logs = new Map<string, { name: LogName; rows: Map<number, LoggedMessage> }>()
  const told = new Map<string, Taken>()
  const beats = new Map<string, number>()
  let reader: Reader | null = null
  let refusals = 0

  const of = (name: LogName) => {
    let found = logs.get(keyOf(name))
    if (found === undefined) {
      found = { name: { writer: name.writer, spool: name.spool }, rows: new Map() }
      logs.set(keyOf(name), found)
    }
    return found
  }
  const ascending = (name: LogName): number[] => [...of(name).rows.keys()].toSorted((a, b) => a - b)
  const check = (): void => {
    if (!memory.away) return
    refusals++
    throw new HubError('HUB_STORE_UNAVAILABLE', 'the database is away.', { retry: true })
  }

  const memory: MemoryIntakeLog = {
    away: false,
    keepsAll: false,
    refusals: () => refusals,
    rows: ascending,
    names: () => [...logs.values()].filter(({ rows }) => rows.size > 0).map(({ name }) => name),
    lose(name, from, to) {
      for (let row = from; row <= to; row++) of(name).rows.delete(row)
    },
    taken: (name) => told.get(keyOf(name)) ?? null,
    setReader(other) {
      reader = other
    },
    reader: () => reader,
    port: {
      async ready() {
        check()
      },
      async append(name, messages, sentAt) {
        check()
        for (const message of messages) of(name).rows.set(message.row, { ...message, sentAt })
      },
      async newest() {
        check()
        return memory.names().map((name) => ({ ...name, row: ascending(name).at(-1)! }))
      },
      async after(name, row, limit) {
        check()
        const { rows } = of(name)
        return ascending(name)
          .filter((n) => n > row)
          .slice(0, limit)
          .map((n) => rows.get(n)!)
      },
      async trim(name, row) {
        check()
        if (memory.keepsAll)
          throw new HubError('HUB_STORE_UNAVAILABLE', 'DELETE is unknown here.', { retry: true })
        memory.lose(name, 1, row)
      },
      async tell(taken, from) {
        check()
        for (const one of taken) told.set(keyOf(one), one)
        reader = from
      },
      async takenOf(name) {
        check()
        return told.get(keyOf(name)) ?? null
      },
      async beat(writer, beat) {
        check()
        beats.set(writer, beat)
      },
      async beats() {
        check()
        return Array.from(beats, ([writer, beat]) => ({ writer, beat }))
      },
      async reader() {
        check()
        return reader
      },
      async close() {},
    },
  }
  return memory
}
