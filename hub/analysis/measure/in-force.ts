import type { Calibration } from '../../model/probe.ts'

/**
 * The calibration in force at a time: the newest with `at <= time`. Before the first one there is none:
 * a later calibration says nothing of the electrode's earlier days. Of two with the same time the later
 * entry wins.
 */
export class InForce<C extends Calibration> {
  readonly #dated: readonly C[]
  #next = 0
  #current: C | null = null

  constructor(calibrations: readonly C[]) {
    this.#dated = calibrations.toSorted((a, b) => a.at - b.at || a.id - b.id)
  }

  /** Times must be asked in ascending order. */
  at(time: number): C | null {
    for (let next = this.#dated[this.#next]; next !== undefined && next.at <= time;) {
      this.#current = next
      next = this.#dated[++this.#next]
    }
    return this.#current
  }
}
