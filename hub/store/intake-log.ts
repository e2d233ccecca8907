import type { SpooledMessage } from './spool-store.ts'

/** One log in the database: what one life of the spool of one ingest process wrote. */
export interface LogName {
  /** Client id of the ingest process. */
  readonly writer: string
  /** Id of its spool. */
  readonly spool: string
}

/** How far a log is taken. */
export interface Taken extends LogName {
  /** The last message taken; 0 when none. */
  readonly row: number
  /** How often the serving hub has looked behind that row and found nothing. */
  readonly looks: number
}

/** The serving hub that reads the logs. */
export interface Reader {
  readonly hub: string
  /** Another number each time it says that it is there. */
  readonly beat: number
}

/** A message out of the log, and when its ingest process sent it there by its own clock, epoch ms. */
export interface LoggedMessage extends SpooledMessage {
  readonly sentAt: number
}

/**
 * The append-only logs by which ingest processes hand messages to the serving hub. Every call rejects with
 * HubError HUB_STORE_UNAVAILABLE while the database is away.
 */
export interface IntakeLog {
  /** Makes what it needs in the database. */
  ready(): Promise<void>
  /** Resolves once all are in the log. The same row again changes nothing. */
  append(name: LogName, messages: readonly SpooledMessage[], sentAt: number): Promise<void>
  /** The newest row of every log. */
  newest(): Promise<readonly (LogName & { readonly row: number })[]>
  /** Messages of one log after a row, ascending; those that are there in part only are not among them. */
  after(name: LogName, row: number, limit: number): Promise<readonly LoggedMessage[]>
  /** Deletes a log up to a row. */
  trim(name: LogName, row: number): Promise<void>
  /** Says how far logs are taken. */
  tell(taken: readonly Taken[], reader: Reader): Promise<void>
  /** How far one log is taken; null when nobody has said so. */
  takenOf(name: LogName): Promise<Taken | null>
  /** An ingest process says that it is there; `beat` is another number each time. */
  beat(writer: string, beat: number): Promise<void>
  /** What each ingest process last said. */
  beats(): Promise<readonly { readonly writer: string; readonly beat: number }[]>
  /** Which hub last said that it reads the logs. */
  reader(): Promise<Reader | null>
  close(): Promise<void>
}
