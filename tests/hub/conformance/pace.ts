import { THOROUGH, type Plan } from '#hub/conformance/plan.ts'
import { hastened, SPECIFIED, type Terms } from '#hub/conformance/terms.ts'

/** The terms for probes that reconnect sixty times and send again two hundred times as soon as specified. */
export const BRISK: Terms = {
  ...hastened(SPECIFIED, 60),
  keepAliveS: [1, 300],
  deadLinkMs: 1000,
  resendMs: 300,
  betweenMs: 300,
  answerMs: 300,
}

/** Everything is tried, nothing for long. */
export const IN_A_HURRY: Plan = {
  ...THOROUGH,
  patienceMs: 10_000,
  readings: 12,
  refuseMs: 1500,
  outage: 10,
  unansweredMs: 3000,
  hubWaitMs: 20,
}
