import { setTimeout as setTimeoutAsync } from 'node:timers/promises'
import { HubError } from '../errors.ts'
import { ALARM_PRIORITIES, type AlarmChange } from '../model/alarm.ts'
import { DAY, SECOND, type Clock } from '../model/clock.ts'
import type { Manner } from '../model/manner.ts'
import type { Message, NewMessage, Route, RouteWay } from '../model/route.ts'
import type { RouteState } from '../model/route-state.ts'
import type { GardenStore } from '../store/garden-store.ts'
import { alarmSaid } from '../words/alarm-said.ts'
import { inManner, say } from '../words/say.ts'
import { backOff, GIVE_UP_MS } from './back-off.ts'
import { keptUntil } from './plan/due.ts'
import { planAll } from './plan/plan-all.ts'
import { wasDelivered } from './plan/plan-route.ts'
import type { Outcome, Outgoing, Sender } from './senders/sender.ts'
import type { Trouble } from './trouble.ts'
import { alarmLetter, repeatNote, testLetter, type LetterContext } from './words/letter.ts'

/** Clocks are set and machines sleep: the time to wait for is looked at again this often. */
const LOOK_AGAIN_MS = 30 * SECOND
/** A message under way may end by itself so long when the hub stops. */
const LAST_WAIT_MS = 2 * SECOND
const AFTER_FAULT_MS = 5 * SECOND
const CHANGES_AT_ONCE = 500
/** Messages that are done with are kept for so long, and so many. */
const KEPT_MS = 90 * DAY
const KEPT = 1000
/** So many tries in a row without success are trouble. */
const TROUBLE_TRIES = 3

export interface DeliveryDeps {
  readonly garden: GardenStore
  readonly clock: Clock
  /** From 0 to below 1; spreads the tries. */
  readonly random: () => number
  /** Makes a UUID. */
  readonly newId: () => string
  /** How the garden is spoken to. */
  readonly manner: () => Manner
  readonly senders: Readonly<Record<RouteWay, Sender>>
  /** Messages were made or got on. */
  readonly onChange: () => void
  readonly onWarn: (message: string) => void
  /** A mistake of ours: the process should end. */
  readonly onFatal: (error: unknown) => void
}

export interface Delivery {
  /** Alarms or routes have news. */
  touch(): void
  /** Sends a test at once, whatever the hour; resolves to what came of it, null for an unknown route. */
  test(routeId: number): Promise<Outcome | null>
  /** The next message of a route that failed is tried now. */
  retry(routeId: number): Promise<void>
  /** Routes that cannot send, in the language spoken here. */
  troubles(): readonly Trouble[]
  /** Resolves once nothing is left that could be done now. */
  settled(): Promise<void>
  stop(): Promise<void>
}

interface Failing {
  readonly since: number
  readonly tries: number
  readonly name: string
  readonly answer: string
}

/**
 * Carries changes of alarms to the gardener: plans messages, keeps them in the outbox and sends them, each route by
 * itself and in order, until they arrived or are given up. A message is marked before it leaves: one that a crash cut
 * off is sent again under the same name, and says that it may be a repeat.
 */
export function startDelivery(deps: DeliveryDeps): Delivery {
  const { garden, clock, random, newId, manner, senders, onChange, onWarn, onFatal } = deps
  const states = new Map<number, RouteState>()
  const sending = new Map<number, Promise<void>>()
  const failing = new Map<number, Failing>()
  let chain: Promise<unknown> = Promise.resolve()
  let round: Promise<void> | null = null
  let again = false
  let stopped = false
  let tidiedAt = Number.NEGATIVE_INFINITY
  let timer: NodeJS.Timeout | undefined

  /** What a route remembers is changed by one at a time. */
  function alone<T>(work: () => Promise<T>): Promise<T> {
    const done = chain.then(work)
    chain = done.catch(() => undefined)
    return done
  }

  async function stateOf(route: Route): Promise<RouteState | null> {
    const known = states.get(route.id) ?? (await garden.routeState(route.id))
    if (known !== null) states.set(route.id, known)
    return known
  }

  async function changesAfter(cursor: number): Promise<readonly AlarmChange[]> {
    const all: AlarmChange[] = []
    for (;;) {
      const after = all.at(-1)?.id ?? cursor
      const part = await garden.alarmChanges({ after, limit: CHANGES_AT_ONCE })
      all.push(...part)
      if (part.length < CHANGES_AT_ONCE) return all
    }
  }

  /** Makes messages of what has happened; resolves to when there is more to plan. */
  async function plan(): Promise<number | null> {
    const routes = (await garden.routes()).filter(({ on }) => on)
    // What a route remembers starts anew when it is switched on: nothing of one that is off is kept here.
    for (const id of states.keys()) if (!routes.some((route) => route.id === id)) states.delete(id)
    for (const id of failing.keys())
      if (!routes.some((route) => route.id === id)) failing.delete(id)
    if (routes.length === 0) return null
    for (const route of routes) await stateOf(route)
    const cursors = [...states.values()].map(({ cursor }) => cursor)
    const [changes, open, { zone }, beds] = await Promise.all([
      changesAfter(Math.min(...cursors)),
      garden.openMessages(),
      garden.garden(),
      garden.beds({ retired: true }),
    ])
    const now = clock()
    const bedNames = new Map(beds.map(({ id, name }) => [id, name]))
    const plans = planAll(routes, states, changes, open, { now, zone, bedNames })
    const steps = [...plans].flatMap(([routeId, { state, messages }]) => {
      const made = messages.map((m): NewMessage => ({ ...m, uid: newId(), madeAt: now }))
      const same = JSON.stringify(state) === JSON.stringify(states.get(routeId))
      return same && made.length === 0 ? [] : [{ routeId, state, messages: made }]
    })
    if (steps.length > 0) {
      await garden.saveRouteSteps(steps)
      for (const { routeId, state } of steps) states.set(routeId, state)
      if (steps.some(({ messages }) => messages.length > 0)) onChange()
    }
    const times = [...plans.values()].flatMap(({ nextAt }) => (nextAt === null ? [] : [nextAt]))
    return times.length === 0 ? null : Math.min(...times)
  }

  const contextOf = async (route: Route): Promise<LetterContext> => {
    const { name, zone } = await garden.garden()
    return { garden: name, zone, linkBase: route.linkBase }
  }

  async function outgoing(route: Route, message: Message): Promise<Outgoing> {
    const context = await contextOf(route)
    const { uid, madeAt, held, items, maybeSent } = message
    return inManner(manner(), () => {
      const said = items.map((item) => ({ ...item, alarm: alarmSaid(item.alarm) }))
      return {
        ...{ uid, madeAt, held, items: said, maybeSent, test: false },
        letter: alarmLetter({ ...message, items: said }, context),
        note: maybeSent ? repeatNote() : null,
      }
    })
  }

  /** When the next message of a route may be tried, epoch ms. */
  function tryAt(route: Route, message: Message, zone: string): number {
    const now = clock()
    const priorities = message.items.map(({ alarm }) => alarm.priority)
    const top = ALARM_PRIORITIES.findLast((priority) => priorities.includes(priority)) ?? 'low'
    return Math.max(message.nextTryAt ?? 0, keptUntil(route, top, now, zone)?.at ?? 0)
  }

  /** One try; resolves to whether the next message may follow at once. */
  async function tryOne(route: Route, message: Message): Promise<boolean> {
    const { id: routeId, name } = route
    const secret = await garden.routeSecret(routeId)
    const letter = await outgoing(route, message)
    const startedAt = clock()
    const tries = message.tries + 1
    const under = { ...message, tries, state: 'sending', lastTryAt: startedAt } as const
    await garden.saveMessage({ ...under, nextTryAt: null })
    onChange()
    const outcome = await senders[route.target.way](route, secret, letter)
    const now = clock()
    const { what, answer } = outcome
    if (what === 'sent') {
      failing.delete(routeId)
      await garden.saveMessage({ ...under, state: 'sent', sentAt: now, nextTryAt: null, answer })
      const alarms = new Set(message.items.map(({ alarm }) => alarm.id))
      await alone(async () => {
        const state = states.get(routeId)
        if (state === undefined) return
        const after = wasDelivered(state, alarms, now)
        await garden.saveRouteSteps([{ routeId, state: after, messages: [] }])
        states.set(routeId, after)
      })
      onChange()
      return true
    }
    const over = what === 'never' || now - message.madeAt > GIVE_UP_MS
    const since = failing.get(routeId)?.since ?? startedAt
    failing.set(routeId, { since, tries: what === 'never' ? TROUBLE_TRIES : tries, name, answer })
    onWarn(`message ${message.id} by '${name}': ${answer}${over ? '; it is given up' : ''}`)
    await garden.saveMessage({
      ...under,
      state: over ? 'given-up' : 'failed',
      nextTryAt: over ? null : now + backOff(tries, random),
      answer,
      maybeSent: message.maybeSent || what === 'unsure',
    })
    onChange()
    return over
  }

  /** Sends what a route has, one after the other, until one has to wait. */
  async function sendAll(routeId: number): Promise<void> {
    for (;;) {
      const [routes, open, { zone }] = await Promise.all([
        garden.routes(),
        garden.openMessages(),
        garden.garden(),
      ])
      const route = routes.find(({ id }) => id === routeId)
      const head = open.find((message) => message.routeId === routeId)
      if (stopped || route === undefined || !route.on || head === undefined) return
      if (tryAt(route, head, zone) > clock() || !(await tryOne(route, head))) return
    }
  }

  /** The outbox: takes up what was cut off, starts every route that can go on; resolves to when one can. */
  async function send(): Promise<number | null> {
    const [routes, open, { zone }] = await Promise.all([
      garden.routes(),
      garden.openMessages(),
      garden.garden(),
    ])
    const now = clock()
    let nextAt = Number.POSITIVE_INFINITY
    for (const route of routes) {
      if (!route.on || sending.has(route.id)) continue
      const head = open.find(({ routeId }) => routeId === route.id)
      if (head === undefined) continue
      // Nobody is at it: the hub ended, or could not write down how it went.
      if (head.state === 'sending') {
        await garden.saveMessage({ ...head, state: 'waiting', maybeSent: true })
      }
      const at = tryAt(route, head, zone)
      if (at > now) {
        nextAt = Math.min(nextAt, at)
        continue
      }
      const work = sendAll(route.id)
        .catch(fault)
        .finally(() => {
          sending.delete(route.id)
          touch()
        })
      sending.set(route.id, work)
    }
    return Number.isFinite(nextAt) ? nextAt : null
  }

  function fault(error: unknown): void {
    if (!(error instanceof HubError)) onFatal(error)
    else if (!stopped) {
      onWarn(`messages: ${error.message}`)
      wake(AFTER_FAULT_MS)
    }
  }

  function wake(inMs: number): void {
    clearTimeout(timer)
    if (stopped) return
    timer = setTimeout(touch, Math.max(0, Math.min(inMs, LOOK_AGAIN_MS)))
    timer.unref()
  }

  async function oneRound(): Promise<void> {
    const planAt = await alone(plan)
    const sendAt = await send()
    const now = clock()
    if (now - tidiedAt > DAY) {
      await garden.tidyMessages(now - KEPT_MS, KEPT)
      tidiedAt = now
    }
    wake(Math.min(planAt ?? Infinity, sendAt ?? Infinity) - now)
  }

  function touch(): void {
    if (stopped) return
    again = true
    round ??= (async () => {
      try {
        while (again && !stopped) {
          again = false
          await oneRound()
        }
      } catch (error) {
        fault(error)
      } finally {
        round = null
      }
    })()
  }

  async function retry(routeId: number): Promise<void> {
    const head = (await garden.openMessages()).find((message) => message.routeId === routeId)
    if (head?.state === 'failed' && !sending.has(routeId)) {
      await garden.saveMessage({ ...head, nextTryAt: null })
    }
    touch()
  }

  touch()
  return {
    touch,
    async test(routeId) {
      const route = (await garden.routes()).find(({ id }) => id === routeId)
      if (route === undefined) return null
      const [secret, context] = await Promise.all([garden.routeSecret(routeId), contextOf(route)])
      const letter = inManner(manner(), () => testLetter(route.name, context))
      const outcome = await senders[route.target.way](route, secret, {
        ...{ uid: newId(), madeAt: clock(), held: null, items: [], maybeSent: false, test: true },
        ...{ letter, note: null },
      })
      if (outcome.what === 'sent') {
        failing.delete(routeId)
        await retry(routeId)
      }
      return outcome
    },
    retry,
    troubles: () =>
      [...failing.values()]
        .filter(({ tries }) => tries >= TROUBLE_TRIES)
        .map(({ since, name, answer }) => ({
          subject: 'delivery',
          since,
          sentence: say`Messages by '${name}' do not get through: ${answer}`,
        })),
    async settled() {
      while (round !== null || sending.size > 0) {
        await Promise.all([round, ...sending.values()])
      }
    },
    async stop() {
      stopped = true
      clearTimeout(timer)
      // One that hangs is cut off: it is taken up at the next start.
      const done = Promise.all([round, ...sending.values()])
      await Promise.race([done, setTimeoutAsync(LAST_WAIT_MS, null, { ref: false })])
    },
  }
}
