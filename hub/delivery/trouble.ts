/** Something of the hub that does not work, for the alarm about the hub itself. */
export interface Trouble {
  readonly subject: 'delivery'
  /** Epoch ms. */
  readonly since: number
  readonly sentence: string
}
