/** What is kept of a probe's password: never the password. Both hashes null: it was taken away. */
export interface Credential {
  readonly probe: string
  /** When the password was made, or taken away; epoch ms. */
  readonly setAt: number
  /** For the hub's own broker. */
  readonly hash: string | null
  /** For the password file of a broker of one's own. */
  readonly brokerHash: string | null
}
