import type { KeyRecord, PersonRecord, SessionRecord } from '../model/account.ts'

/** Everything that says who may do what. */
export interface AccountRecords {
  readonly people: readonly PersonRecord[]
  readonly sessions: readonly SessionRecord[]
  readonly keys: readonly KeyRecord[]
}

/** People, their sessions and the keys that were given away. Every method is one transaction. */
export interface AccountStore {
  accounts(): Promise<AccountRecords>
  /** Null when somebody has that name, large or small letters. */
  addPerson(person: Omit<PersonRecord, 'id'>): Promise<PersonRecord | null>
  /** Null when the id is unknown or somebody else has that name. */
  changePerson(person: PersonRecord): Promise<PersonRecord | null>
  /** Their sessions go with them. */
  removePerson(id: number): Promise<boolean>
  addSession(session: Omit<SessionRecord, 'id'>): Promise<SessionRecord>
  sessionSeen(id: number, at: number): Promise<void>
  removeSessions(ids: readonly number[]): Promise<void>
  addKey(key: Omit<KeyRecord, 'id'>): Promise<KeyRecord>
  keyUsed(id: number, at: number): Promise<void>
  removeKeys(ids: readonly number[]): Promise<void>
}
