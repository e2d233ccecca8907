import { rowOf, rowsOf, transact } from './open-database.ts'
import type { Answer, Command, Order, Wish } from '../../model/order.ts'
import type { Database } from './open-database.ts'

interface Row {
  readonly id: number
  readonly probe: string
  readonly kind: Order['kind']
  readonly interval_s: number | null
  readonly samples: number | null
  readonly settle_s: number | null
  readonly what: Command
  readonly boot: number
  readonly first: number
  readonly count: number
  readonly made_at: number
  readonly expires_at: number
  readonly sent_at: number | null
  readonly times: number
  readonly answered_at: number | null
  readonly ok: number | null
  readonly reason: string | null
}

/** Orders that have an answer or can have none any more are kept this many to a probe. */
const KEPT = 500

function wishOf(row: Row): Wish {
  const { kind, expires_at: expiresAt } = row
  if (kind === 'command') return { kind, what: row.what, expiresAt }
  if (kind === 'resend') {
    return { kind, boot: row.boot, from: row.first, count: row.count, expiresAt }
  }
  const { interval_s: intervalS, samples, settle_s: settleS } = row
  return { kind, settings: { intervalS, samples, settleS } }
}

function toOrder(row: Row): Order {
  const { id, probe, made_at: madeAt, sent_at: sentAt, times, answered_at: at, ok, reason } = row
  const answer = at === null ? null : { at, ok: ok === 1, reason }
  return { ...wishOf(row), id, probe, madeAt, sentAt, times, answer }
}

/** What the hub wants of probes, and what they answered. */
export function gardenOrders(db: Database) {
  const nextId = db.prepare('SELECT max(coalesce(max(id), 0) + 1, ?) AS id FROM probe_order')
  const add = db.prepare(
    `INSERT INTO probe_order (id, probe, kind, interval_s, samples, settle_s, what, boot, first, count,
       made_at, expires_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
  )
  // The newest ids stay whatever they are: an id is never given twice.
  const forget = db.prepare(
    `DELETE FROM probe_order WHERE probe = ?1 AND kind <> 'settings' AND id <= (
       SELECT id FROM probe_order WHERE probe = ?1 ORDER BY id DESC LIMIT 1 OFFSET ${KEPT})`,
  )
  const find = db.prepare('SELECT * FROM probe_order WHERE id = ?')
  const ofProbe = db.prepare(
    `SELECT * FROM probe_order WHERE probe = ? ORDER BY id DESC LIMIT CAST(? AS INTEGER)`,
  )
  const open = db.prepare(
    `SELECT * FROM probe_order WHERE answered_at IS NULL AND (kind = 'settings' OR expires_at > ?)
     ORDER BY id`,
  )
  // The newest wish that was not refused; what came before it no longer counts.
  const standing = db.prepare(
    `SELECT * FROM probe_order WHERE id IN (
       SELECT max(id) FROM probe_order WHERE kind = 'settings' AND coalesce(ok, 1) = 1 GROUP BY probe
     ) AND (?1 IS NULL OR probe = ?1) ORDER BY id`,
  )
  const sent = db.prepare('UPDATE probe_order SET sent_at = ?, times = times + 1 WHERE id = ?')
  const answer = db.prepare(
    `UPDATE probe_order SET answered_at = ?, ok = ?, reason = ?
     WHERE id = ? AND probe = ? AND answered_at IS NULL`,
  )
  const byId = (id: number): Order | null => {
    const row = rowOf<Row>(find, id)
    return row === null ? null : toOrder(row)
  }

  return {
    addOrder: (probe: string, wish: Wish, at: number): Order =>
      transact(db, () => {
        // Seconds since 1970 at least: a hub that lost its records must not count from 1 again.
        const id = rowOf<{ id: number }>(nextId, Math.floor(at / 1000))!.id
        const s = wish.kind === 'settings' ? wish.settings : null
        const r = wish.kind === 'resend' ? wish : null
        add.run(
          id,
          probe,
          wish.kind,
          s?.intervalS ?? null,
          s?.samples ?? null,
          s?.settleS ?? null,
          wish.kind === 'command' ? wish.what : null,
          r?.boot ?? null,
          r?.from ?? null,
          r?.count ?? null,
          at,
          wish.kind === 'settings' ? null : wish.expiresAt,
        )
        forget.run(probe)
        return byId(id)!
      }),
    orders: (probe: string, limit: number): Order[] =>
      rowsOf<Row>(ofProbe, probe, limit).map(toOrder),
    openOrders: (at: number): Order[] => rowsOf<Row>(open, at).map(toOrder),
    standingSettings: (probe?: string): Order[] =>
      rowsOf<Row>(standing, probe ?? null).map(toOrder),
    orderSent: (id: number, at: number): Order | null => {
      sent.run(at, id)
      return byId(id)
    },
    answerOrder: (probe: string, id: number, { at, ok, reason }: Answer): Order | null =>
      answer.run(at, ok ? 1 : 0, reason, id, probe).changes === 1 ? byId(id) : null,
  }
}
