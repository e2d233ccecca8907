import type { Order } from '../../model/order.ts'
import type { OrderView, ProbeOrders } from '../schemas/order.ts'

/** How many commands a page shows. */
const OTHERS_SHOWN = 20

/** @param now epoch ms: what nobody answered until then may have expired */
export function orderView(order: Order, now: number): OrderView {
  const resend = order.kind === 'resend' ? order : null
  const expiresAt = order.kind === 'settings' ? null : order.expiresAt
  return {
    id: order.id,
    kind: order.kind,
    what: order.kind === 'command' ? order.what : null,
    settings: order.kind === 'settings' ? { ...order.settings } : null,
    boot: resend?.boot ?? null,
    from: resend?.from ?? null,
    count: resend?.count ?? null,
    madeAt: Math.round(order.madeAt),
    sentAt: order.sentAt === null ? null : Math.round(order.sentAt),
    times: order.times,
    expiresAt: expiresAt === null ? null : Math.round(expiresAt),
    state: stateOf(order, expiresAt, now),
    answeredAt: order.answer === null ? null : Math.round(order.answer.at),
    reason: order.answer?.reason ?? null,
  }
}

function stateOf(order: Order, expiresAt: number | null, now: number): OrderView['state'] {
  if (order.answer !== null) return order.answer.ok ? 'done' : 'refused'
  if (expiresAt !== null && expiresAt <= now) return 'expired'
  // Settings stand retained at the broker and need no moment at which the probe is there.
  return order.kind === 'settings' || order.sentAt !== null ? 'sent' : 'waiting'
}

/** @param orders of one probe, newest first */
export function probeOrders(
  orders: readonly Order[],
  standing: readonly Order[],
  now: number,
): ProbeOrders {
  const newest = orders.find(({ kind }) => kind === 'settings')
  const [stands] = standing
  return {
    settings: newest === undefined ? null : orderView(newest, now),
    standing: stands === undefined ? null : orderView(stands, now),
    others: orders
      .filter(({ kind }) => kind !== 'settings')
      .slice(0, OTHERS_SHOWN)
      .map((order) => orderView(order, now)),
  }
}
