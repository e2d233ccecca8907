export const ROLES = ['owner', 'viewer'] as const
/** `owner` does everything; `viewer` sees everything but accounts, secrets and backups, and changes nothing. */
export type Role = (typeof ROLES)[number]

export const SCOPES = ['read', 'enter', 'change', 'own'] as const
/**
 * What a request may be for: `read` looks, `enter` writes in the journal and measures by hand, `change` edits
 * anything else of the garden, `own` is for accounts, secrets and the backup. Who may change may also enter.
 */
export type Scope = (typeof SCOPES)[number]

/** Somebody with a name and a password. */
export interface Person {
  readonly id: number
  readonly name: string
  readonly role: Role
  /** Epoch ms. */
  readonly createdAt: number
  /** When the password was set, epoch ms. */
  readonly passwordAt: number
}
/** As it is kept: with what the password is checked with, never the password. */
export interface PersonRecord extends Person {
  /** In the string format of password hashes, `$argon2id$…`. */
  readonly hash: string
}

/** One browser in which somebody has signed in. */
export interface Session {
  readonly id: number
  readonly personId: number
  readonly startedAt: number
  /** Last used, epoch ms; exact to some minutes. */
  readonly seenAt: number
  /** What the browser says of itself; untrusted text. */
  readonly device: string
}
export interface SessionRecord extends Session {
  /** SHA-256 of the session's secret, hexadecimal. */
  readonly hash: string
}

export const KEY_KINDS = ['token', 'share', 'feed'] as const
/** `token`: for a program. `share`: one bed, to look at. `feed`: the calendar and the feed of alarms. */
export type KeyKind = (typeof KEY_KINDS)[number]

/** A secret somebody was given instead of a password. Taken back by removing it. */
export interface AccessKey {
  readonly id: number
  readonly kind: KeyKind
  readonly name: string
  /** Empty unless it is a token. */
  readonly scopes: readonly Scope[]
  /** The bed a share link shows; null for other kinds. */
  readonly bedId: number | null
  readonly madeAt: number
  /** Epoch ms; null: until it is taken back. */
  readonly endsAt: number | null
  /** Last used, epoch ms, exact to some minutes; null: not yet. */
  readonly usedAt: number | null
}
export interface KeyRecord extends AccessKey {
  /** SHA-256 of the secret, hexadecimal. */
  readonly hash: string
}
