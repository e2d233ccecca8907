import { MINUTE, SECOND } from '../model/clock.ts'

/** How long the check watches and what it tries. */
export interface Plan {
  /** Wait for the probe to connect, ms. */
  readonly patienceMs: number
  /** Live readings watched before anything is tried. */
  readonly readings: number
  /** The probe is refused at least this long, ms. */
  readonly refuseMs: number
  /** It is refused for so many of its intervals at least. */
  readonly outage: number
  /** Leave a connection dead until the probe notices. */
  readonly blackHole: boolean
  /** Longest wait for batches sent again unanswered, ms; 0: not tried. */
  readonly unansweredMs: number
  /** Further rounds of cuts and broken messages until this has passed, ms. */
  readonly soakMs: number
  /** A hub behind the broker has this long to acknowledge before the check does it, ms. */
  readonly hubWaitMs: number
}

/** Half an hour with a probe that measures every minute or takes settings. */
export const THOROUGH: Plan = {
  patienceMs: 5 * MINUTE,
  readings: 20,
  refuseMs: 10 * MINUTE,
  outage: 10,
  blackHole: true,
  unansweredMs: 5 * MINUTE,
  soakMs: 0,
  hubWaitMs: 300,
}

/** A few minutes: what takes waiting is left out. */
export const QUICK: Plan = {
  ...THOROUGH,
  readings: 5,
  refuseMs: 20 * SECOND,
  outage: 2,
  blackHole: false,
  unansweredMs: 0,
}
