import type { Message, NewRoute, Route } from '../../model/route.ts'
import { freshRouteState, type RouteState } from '../../model/route-state.ts'
import type { RouteStep } from '../delivery-store.ts'
import { rowOf, rowsOf, transact } from './open-database.ts'
import type { Database } from './open-database.ts'

interface RouteRow {
  readonly id: number
  readonly createdAt: number
  readonly pausedUntil: number | null
  readonly settings: string
  readonly hasSecret: number
}
type MessageRow = Omit<Message, 'items' | 'maybeSent'> & {
  readonly items: string
  readonly maybeSent: number
}

const ROUTE = `id, created_at AS createdAt, paused_until AS pausedUntil, settings,
  secret IS NOT NULL AS hasSecret`
const MESSAGE = `id, route AS routeId, uid, made_at AS madeAt, held, items, state, tries,
  last_try_at AS lastTryAt, next_try_at AS nextTryAt, sent_at AS sentAt, answer, maybe_sent AS maybeSent`

const toRoute = ({ settings, hasSecret, ...row }: RouteRow): Route => ({
  ...row,
  ...(JSON.parse(settings) as NewRoute),
  hasSecret: hasSecret === 1,
})
const toMessage = (row: MessageRow): Message => ({
  ...row,
  items: JSON.parse(row.items) as Message['items'],
  maybeSent: row.maybeSent === 1,
})

/** What is stored of a route besides its times and its secret: its own members only. */
function settingsOf(route: NewRoute): string {
  const { name, on, target, linkBase, kinds, beds, leastPriority, tells, gatherMin } = route
  const { digestAt, atOnceFrom, quiet, repeatMin, escalate, mostPerHour } = route
  const all = { name, on, target, linkBase, kinds, beds, leastPriority, tells, gatherMin, digestAt }
  return JSON.stringify({ ...all, atOnceFrom, quiet, repeatMin, escalate, mostPerHour })
}

/** Routes and the outbox of their messages. */
export function gardenDelivery(db: Database) {
  const all = db.prepare(`SELECT ${ROUTE} FROM route ORDER BY id`)
  const find = db.prepare(`SELECT ${ROUTE} FROM route WHERE id = ?`)
  const newestChange = db.prepare('SELECT coalesce(max(id), 0) AS id FROM alarm_change')
  const add = db.prepare(
    'INSERT INTO route (created_at, settings, secret, state) VALUES (?, ?, ?, ?) RETURNING id',
  )
  const setSettings = db.prepare('UPDATE route SET settings = ? WHERE id = ?')
  const setSecret = db.prepare('UPDATE route SET secret = ? WHERE id = ?')
  const setState = db.prepare('UPDATE route SET state = ? WHERE id = ?')
  const pause = db.prepare('UPDATE route SET paused_until = ? WHERE id = ?')
  const drop = db.prepare('DELETE FROM route WHERE id = ?')
  const secret = db.prepare('SELECT secret FROM route WHERE id = ?')
  const state = db.prepare('SELECT state FROM route WHERE id = ?')
  const addMessage = db.prepare(
    'INSERT INTO message (route, uid, made_at, held, items) VALUES (?, ?, ?, ?, ?)',
  )
  const newest = db.prepare(
    `SELECT ${MESSAGE} FROM message WHERE ?1 IS NULL OR route = ?1
     ORDER BY id DESC LIMIT CAST(?2 AS INTEGER)`,
  )
  const open = db.prepare(
    `SELECT ${MESSAGE} FROM message WHERE state IN ('waiting', 'sending', 'failed') ORDER BY id`,
  )
  const progress = db.prepare(
    `UPDATE message SET state = ?, tries = CAST(? AS INTEGER), last_try_at = ?, next_try_at = ?,
       sent_at = ?, answer = ?, maybe_sent = CAST(? AS INTEGER) WHERE id = ?`,
  )
  const tidy = db.prepare(
    `DELETE FROM message WHERE state IN ('sent', 'given-up') AND (made_at < ?1 OR id <= (
       SELECT id FROM message WHERE state IN ('sent', 'given-up')
       ORDER BY id DESC LIMIT 1 OFFSET CAST(?2 AS INTEGER)))`,
  )
  const own = db.prepare('SELECT value FROM hub_own WHERE name = ?')
  const setOwn = db.prepare(
    `INSERT INTO hub_own (name, value) VALUES (?, ?)
     ON CONFLICT DO UPDATE SET value = excluded.value`,
  )

  const route = (id: number): Route | null => {
    const row = rowOf<RouteRow>(find, id)
    return row === null ? null : toRoute(row)
  }
  const routes = (): Route[] => rowsOf<RouteRow>(all).map(toRoute)
  const fresh = (): string =>
    JSON.stringify(freshRouteState(rowOf<{ id: number }>(newestChange)!.id))

  return {
    routes,
    addRoute: (made: NewRoute, hidden: string | null, at: number): Route =>
      transact(db, () => {
        const { id } = rowOf<{ id: number }>(add, at, settingsOf(made), hidden, fresh())!
        return route(id)!
      }),
    changeRoute: (id: number, changed: NewRoute, hidden?: string | null): Route | null =>
      transact(db, () => {
        const before = route(id)
        if (before === null) return null
        setSettings.run(settingsOf(changed), id)
        if (hidden !== undefined) setSecret.run(hidden, id)
        if (changed.on && !before.on) setState.run(fresh(), id)
        return route(id)
      }),
    pauseRoute: (id: number, until: number | null): Route | null => {
      pause.run(until, id)
      return route(id)
    },
    removeRoute: (id: number): boolean =>
      transact(db, () => {
        for (const other of routes()) {
          if (other.escalate?.to !== id) continue
          setSettings.run(settingsOf({ ...other, escalate: null }), other.id)
        }
        return drop.run(id).changes === 1
      }),
    routeSecret: (id: number): string | null =>
      rowOf<{ secret: string | null }>(secret, id)?.secret ?? null,
    routeState: (id: number): RouteState | null => {
      const row = rowOf<{ state: string }>(state, id)
      return row === null ? null : (JSON.parse(row.state) as RouteState)
    },
    saveRouteSteps: (steps: readonly RouteStep[]): void =>
      transact(db, () => {
        for (const { routeId, state: after, messages } of steps) {
          if (setState.run(JSON.stringify(after), routeId).changes === 0) continue
          for (const { uid, madeAt, held, items } of messages) {
            addMessage.run(routeId, uid, madeAt, held, JSON.stringify(items))
          }
        }
      }),
    messages: (asked: { readonly routeId?: number; readonly limit: number }): Message[] =>
      rowsOf<MessageRow>(newest, asked.routeId ?? null, asked.limit).map(toMessage),
    openMessages: (): Message[] => rowsOf<MessageRow>(open).map(toMessage),
    saveMessage: (m: Message): void => {
      const { state: how, tries, lastTryAt, nextTryAt, sentAt, answer, maybeSent, id } = m
      progress.run(how, tries, lastTryAt, nextTryAt, sentAt, answer, maybeSent ? 1 : 0, id)
    },
    tidyMessages: (before: number, kept: number): void => {
      tidy.run(before, kept)
    },
    own: (name: string): string | null => rowOf<{ value: string }>(own, name)?.value ?? null,
    setOwn: (name: string, value: string): void => {
      setOwn.run(name, value)
    },
  }
}
