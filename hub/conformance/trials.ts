import type { Attendant } from './attendant.ts'
import { intervalOf } from './interval.ts'
import type { Plan } from './plan.ts'
import type { Proxy } from './proxy.ts'
import type { Purpose } from './record.ts'
import type { Terms } from './terms.ts'

/** What a trial has at hand. */
export interface Scene {
  readonly probe: string
  readonly plan: Plan
  readonly terms: Terms
  readonly proxy: Proxy
  readonly attendant: Attendant
  /** True when it was seen within the time, ms. */
  until(seen: () => boolean, ms: number): Promise<boolean>
  pause(ms: number): Promise<void>
  say(text: string): void
  stopped(): boolean
}

/** Least interval settings may ask for, s. */
const LEAST_INTERVAL_S = 60
const SMALL_PACKET = 128
const LARGE_PAYLOAD = 4000
/** Nobody in the tests or the garden has this id; an id is 3 to 23 characters. */
const NOBODY = 'zzother'

/** Ids of what is sent, each one new. */
function freshIds(scene: Scene): () => number {
  const { birth, results } = scene.attendant.progress
  let next = Math.max(birth?.cv ?? 0, 41_000, ...results.keys())
  return () => ++next
}

/** Longest wait for the next thing a probe does by itself, ms. */
const whileIdle = ({ attendant, terms }: Scene): number =>
  Math.max(3 * intervalOf(attendant.progress), 1500 * attendant.progress.keepAliveS) +
  terms.answerMs

async function send(
  scene: Scene,
  topic: string,
  payload: string,
  purpose: Purpose,
  retain = false,
): Promise<boolean> {
  return scene.until(() => scene.proxy.send(topic, payload, { retain, purpose }), whileIdle(scene))
}

/** Sends settings or a command and gives the probe time to answer; true when it did. */
async function ask(
  scene: Scene,
  leaf: 'cfg' | 'cmd',
  body: { readonly id: number; readonly payload: string; readonly retain?: boolean },
  purpose: Purpose,
): Promise<boolean> {
  const { results } = scene.attendant.progress
  results.delete(body.id)
  const topic = `lm1/${scene.probe}/dn/${leaf}`
  if (!(await send(scene, topic, body.payload, purpose, body.retain))) return false
  const answered = await scene.until(() => results.has(body.id), scene.terms.answerMs)
  // What a command sets off may come after its answer.
  if (answered) await scene.pause(scene.terms.answerMs / 4)
  return answered
}

async function signOfLife(scene: Scene): Promise<boolean> {
  const { progress } = scene.attendant
  const before = progress.packets
  return scene.until(() => progress.packets > before, whileIdle(scene))
}

/**
 * Settings and commands, good, bad and broken, and packets that are too large.
 * @returns false when the probe fell silent
 */
export async function tryDownlinks(scene: Scene): Promise<boolean> {
  const { probe, terms, attendant } = scene
  const { progress } = attendant
  const id = freshIds(scene)
  const hello = (number: number): string => `{"id":${number},"do":"hello"}`
  const usual = Math.max(LEAST_INTERVAL_S, progress.birth?.iv ?? LEAST_INTERVAL_S)
  const slow = usual > LEAST_INTERVAL_S
  scene.say('settings and commands')

  if (slow) {
    // Readings every minute, so that the rest does not take hours.
    const cv = id()
    const payload = `{"cv":${cv},"iv":${LEAST_INTERVAL_S}}`
    await ask(scene, 'cfg', { id: cv, payload }, 'settings in range')
  }
  if (await send(scene, `lm1/${NOBODY}/dn/cmd`, hello(id()), "another probe's command"))
    await scene.pause(terms.answerMs / 2)
  const once = id()
  const takes = await ask(scene, 'cmd', { id: once, payload: hello(once) }, 'command')
  if (takes || progress.births > 1) {
    for (const retain of [false, true]) {
      const again = { id: once, payload: hello(once), retain }
      await ask(scene, 'cmd', again, 'the same command again')
      await scene.pause(terms.answerMs / 4)
    }
  }
  const padded = id()
  const room = SMALL_PACKET - `lm1/${probe}/dn/cmd`.length - 4
  const command = { id: padded, payload: hello(padded).padEnd(room) }
  await ask(scene, 'cmd', command, 'command of 128 bytes')

  for (const rest of ['"iv":1', `"iv":${usual},"ns":999`, `"iv":${usual},"st":-5`]) {
    const cv = id()
    const payload = `{"cv":${cv},${rest}}`
    await ask(scene, 'cfg', { id: cv, payload }, 'settings out of range')
  }
  scene.say('broken and oversized messages')
  await send(scene, `lm1/${probe}/dn/cfg`, `{"cv":${id()},"iv":`, 'broken settings')
  if (!(await signOfLife(scene))) return false
  await send(scene, `lm1/${probe}/dn/cmd`, `{"id":${id()},"do":"hel`, 'broken command')
  if (!(await signOfLife(scene))) return false
  await send(scene, `lm1/${probe}/dn/cmd`, 'x'.repeat(LARGE_PAYLOAD), 'oversized packet')
  if (!(await signOfLife(scene))) return false
  // Last, so that the interval it had is in force again.
  const cv = id()
  const payload = slow ? `{"cv":${cv},"iv":${usual}}` : `{"cv":${cv},"ns":16}`
  await ask(scene, 'cfg', { id: cv, payload }, 'settings in range')
  return true
}

/** Cuts the connection and waits until the probe is back. */
async function cutOnce(scene: Scene): Promise<boolean> {
  const { proxy, attendant, terms } = scene
  const { progress } = attendant
  const before = progress.ons
  proxy.cut()
  return scene.until(() => progress.ons > before, 2 * terms.longestPauseMs + whileIdle(scene))
}

/** Acknowledgements withheld, and such as are meant for others. */
export async function tryAcknowledgements(scene: Scene): Promise<void> {
  const { probe, plan, terms, proxy, attendant } = scene
  const { progress } = attendant
  const newReadings = (count: number): Promise<boolean> => {
    const before = progress.live
    return scene.until(() => progress.live >= before + count, (count + 1) * whileIdle(scene))
  }
  const batchHere = (): Promise<boolean> =>
    scene.until(() => progress.batchesHere > 0, terms.resendMs + terms.answerMs)
  if (!(await newReadings(1)) || progress.boot === null) return
  scene.say('acknowledgements withheld, and for others')
  proxy.withhold(true)
  if (await newReadings(3)) {
    const body = (boot: number): string => `{"b":${boot},"n":${Math.max(0, progress.newest)}}`
    const boot = progress.boot
    await send(scene, `lm1/${NOBODY}/dn/ack`, body(boot), "another probe's acknowledgement")
    await newReadings(1)
    let batch = (await cutOnce(scene)) && (await batchHere())
    const other = boot === 0 ? 1 : boot - 1
    await send(scene, `lm1/${probe}/dn/ack`, body(other), "another boot's acknowledgement")
    await newReadings(1)
    batch = (await cutOnce(scene)) && (await batchHere()) && batch
    if (batch && plan.unansweredMs > 0) {
      scene.say('waiting for batches that are sent again')
      await scene.until(() => progress.batchesHere >= 3, plan.unansweredMs)
    }
  }
  proxy.withhold(false)
  attendant.acknowledge()
  await drained(scene)
}

/** Waits while readings that were held back still come, up to the newest that there was. */
async function drained(scene: Scene): Promise<void> {
  const { attendant, terms, plan } = scene
  const { progress } = attendant
  const target = progress.newest
  const quietMs = 3 * terms.betweenMs + 2 * plan.hubWaitMs + terms.answerMs
  for (;;) {
    const before = progress.batches
    if (!(await scene.until(() => progress.batches > before, quietMs))) return
    if (progress.newestLate >= target) return
  }
}

/** The probe is refused for a long time. */
export async function tryOutage(scene: Scene): Promise<void> {
  const { plan, proxy, attendant, terms } = scene
  const { progress } = attendant
  const ms = Math.max(plan.refuseMs, (plan.outage + 0.5) * intervalOf(progress))
  scene.say(`refusing it for ${Math.ceil(ms / 60_000)} min`)
  const { ons, live } = progress
  proxy.refuse(true)
  proxy.cut()
  await scene.pause(ms)
  proxy.refuse(false)
  const back = await scene.until(
    () => progress.ons > ons && progress.live > live,
    2 * terms.longestPauseMs + whileIdle(scene),
  )
  if (back) await drained(scene)
}

/** A connection on which nothing passes, and nobody is told. */
export async function tryHole(scene: Scene): Promise<void> {
  const { proxy, attendant, terms } = scene
  const { progress } = attendant
  const limit = 1500 * progress.keepAliveS + terms.deadLinkMs
  scene.say(`leaving the connection dead for up to ${Math.ceil(limit / 1000)} s`)
  const { ons, opened } = progress
  proxy.blackHole()
  const noticed = await scene.until(() => progress.opened > opened, limit + terms.firstPauseMs)
  if (!noticed) proxy.cut()
  const back = await scene.until(() => progress.ons > ons, whileIdle(scene))
  if (back) await drained(scene)
}
