import { decode } from '../../wire/payload.ts'
import type { Terms } from '../terms.ts'
import { brokenByMessage, counted, lasting, met, notMet, notTested, type Judge } from './verdict.ts'
import {
  acknowledgements,
  arrived,
  buffers,
  ofKind,
  openLinks,
  states,
  unreadableBatches,
  type Downlink,
  type OfKind,
  type Watched,
} from './watched.ts'

/** Three batches take two pauses; less than this many is too fast, whatever the way does to them. */
const BUNCH = 1.2
/** A second pause without an answer is at least so many times the first. */
const GROWTH = 1.4
const UNREADABLE = 'a batch of it could not be read'
const NO_BUFFER = 'it claims no buffer: neither B in birth.x nor birth.buf, and it sent no batch'

/** Rows of a batch, by the numbers of its first and last. */
const spanOf = ({ decoded }: OfKind<'batch'>): { boot: number; first: number; last: number } => ({
  boot: decoded.body.b,
  first: decoded.body.r[0]?.[0] ?? 0,
  last: decoded.body.r.at(-1)?.[0] ?? 0,
})

/** Oldest number of a boot that came before a place and that no acknowledgement has freed by then. */
export function oldestHeld(all: Watched, boot: number, place: number): number | null {
  const freed = acknowledgements(all)
    .filter(({ b, place: when }) => b === boot && when < place)
    .reduce((top, { n }) => Math.max(top, n), -1)
  const held = all.rows.filter(
    (row) => row.boot === boot && row.message.place < place && row.n > freed,
  )
  return held.length === 0 ? null : Math.min(...held.map(({ n }) => n))
}

/** True when the memory may have overwritten a reading by the time of a place: it is that far back. */
function maybeOverwritten(
  all: Watched,
  reading: { readonly boot: number; readonly n: number },
  place: number,
  terms: Terms,
): boolean {
  const buf = ofKind(all.messages, 'birth').at(-1)?.decoded.body.buf ?? terms.held
  // What was measured by then shows in the next live reading at the latest.
  const own = all.rows.filter(({ boot }) => boot === reading.boot)
  const next =
    own.find(({ live, message }) => live && message.place > place)?.message.place ?? place
  const newest = Math.max(...own.filter(({ message }) => message.place <= next).map(({ n }) => n))
  return newest - reading.n >= buf
}

/** LM-23: what is held. */
export const judgeHeld: Judge = (all, terms) => {
  if (!buffers(all)) return notTested(NO_BUFFER)
  if (unreadableBatches(all)) return notTested(UNREADABLE)
  let most = 0
  let told = 'it measured nothing while it was cut off'
  for (const from of all.deeds.filter(({ deed }) => deed === 'refuse')) {
    const to = all.deeds.find(({ deed, place }) => deed === 'let in' && place > from.place)
    const before = all.rows.findLast(({ live, message }) => live && message.place < from.place)
    if (to === undefined || before === undefined) continue
    const after = all.rows.find(
      ({ live, boot, message }) => live && boot === before.boot && message.place > to.place,
    )
    if (after === undefined) continue
    const late = all.rows.filter(
      ({ boot, n }) => boot === before.boot && n > before.n && n < after.n,
    )
    const everything = arrived(all)
    const came = new Set(
      Array.from({ length: after.n - before.n - 1 }, (_, i) => before.n + 1 + i).filter((n) =>
        everything.has(`${before.boot}:${n}`),
      ),
    )
    const taken = after.n - before.n - 1
    // While the late ones came, fresh ones took their places in the memory.
    const lastPlace = late.at(-1)?.message.place ?? after.message.place
    const newest = all.rows.findLast(
      ({ live, boot, message }) => live && boot === before.boot && message.place <= lastPlace,
    )
    const oldest = Math.max(before.n + 1, Math.max(after.n, newest?.n ?? 0) - terms.held)
    const lost = Array.from({ length: Math.max(0, after.n - oldest) }, (_, i) => oldest + i).filter(
      (n) => !came.has(n),
    )
    if (lost.length > 0)
      return notMet(
        `of ${counted(taken, 'reading')} measured while it was cut off ${lost.length} never came, the first of them number ${lost[0] ?? 0}`,
        after.message,
      )
    if (came.size > most) told = `${came.size} of ${taken} measured while it was cut off came`
    most = Math.max(most, came.size)
  }
  return most >= terms.held ? met(told) : notTested(`${told}; ${terms.held} are asked for`)
}

/** LM-24: order of batches. */
export const judgeBatches: Judge = (all, terms) => {
  const broken = brokenByMessage(all, 'LM-24')
  if (broken !== null) return broken
  const batches = ofKind(all.messages, 'batch')
  if (batches.length === 0) return notTested(buffers(all) ? 'no batch came' : NO_BUFFER)
  for (const link of openLinks(all)) {
    let pending: OfKind<'batch'> | null = null
    for (const batch of ofKind(link.messages, 'batch')) {
      const { boot, first, last } = spanOf(batch)
      if (pending !== null) {
        const asked: { boot: number; first: number; last: number } = spanOf(pending)
        // An answer to what it sent live may cross the batch on the way.
        const from: number = pending.at - terms.betweenMs
        const answered = acknowledgements(all).some(
          ({ b, n, at, place }) =>
            b === asked.boot && n >= asked.last && at > from && place < batch.place,
        )
        const gone = maybeOverwritten(all, { boot: asked.boot, n: asked.first }, batch.place, terms)
        if (!answered && !gone && (boot !== asked.boot || first > asked.last))
          return notMet(`came before the batch up to ${asked.last} was answered`, batch)
      }
      pending = batch
      const misled = all.downlinks.some(
        ({ purpose, place }) => purpose?.startsWith('another') === true && place < batch.place,
      )
      const oldest = oldestHeld(all, boot, batch.place)
      if (misled || oldest === null || first <= oldest) continue
      if (!maybeOverwritten(all, { boot, n: oldest }, batch.place, terms))
        return notMet(
          `begins at ${first}, though ${oldest} is not acknowledged (up to ${last})`,
          batch,
        )
    }
  }
  return met(`${counted(batches.length, 'batch').replace(/batchs$/, 'batches')}, oldest first`)
}

/** Which readings a probe gave up after an acknowledgement that was not for it; null: none was tried. */
export function misledBy(
  all: Watched,
  purpose: Downlink['purpose'],
  terms: Terms,
): { readonly tried: number; readonly broken: ReturnType<Judge> | null } | null {
  if (unreadableBatches(all)) return null
  let tried = 0
  for (const lure of all.downlinks.filter((one) => one.purpose === purpose)) {
    const boot = all.rows.findLast(({ live, message }) => live && message.place < lure.place)?.boot
    if (boot === undefined) continue
    const held = oldestHeld(all, boot, lure.place)
    // What an earlier lure made it give up is not asked of this one.
    const sent = ofKind(all.messages, 'batch').findLast(
      (one) => spanOf(one).boot === boot && one.place < lure.place,
    )
    const oldest = held === null || sent === undefined ? held : Math.max(held, spanOf(sent).first)
    if (oldest === null || maybeOverwritten(all, { boot, n: oldest }, lure.place, terms)) continue
    const freed = acknowledgements(all).find(
      ({ b, n, place }) => b === boot && n >= oldest && place > lure.place,
    )
    const before = freed?.place ?? Infinity
    const next = ofKind(all.messages, 'batch').find(
      (one) => spanOf(one).boot === boot && one.place > lure.place && one.place < before,
    )
    if (next !== undefined) {
      tried++
      const { first } = spanOf(next)
      if (first > oldest)
        return {
          tried,
          broken: notMet(
            `it gave up number ${oldest} on it: its next batch begins at ${first}`,
            lure,
          ),
        }
      continue
    }
    const back = openLinks(all).find(({ messages }) =>
      states(messages, 'on').some(({ place }) => place > lure.place && place < before),
    )
    const until = Math.min(back?.closedAt ?? all.endedAt, freed?.at ?? Infinity)
    if (back !== undefined && until - back.openedAt > terms.resendMs && buffers(all))
      return { tried, broken: notMet(`it gave up number ${oldest} on it: no batch came`, lure) }
  }
  return tried === 0 ? null : { tried, broken: null }
}

/** LM-25: what an acknowledgement frees. */
export const judgeFreed: Judge = (all, terms) => {
  if (!buffers(all)) return notTested(NO_BUFFER)
  if (unreadableBatches(all)) return notTested(UNREADABLE)
  const lured = misledBy(all, "another boot's acknowledgement", terms)
  if (lured?.broken) return lured.broken
  const grace = 2 * terms.betweenMs + 250
  for (const batch of ofKind(all.messages, 'batch')) {
    const { boot, first } = spanOf(batch)
    const ack = acknowledgements(all).find(
      ({ b, n, link, at, place }) =>
        b === boot &&
        n >= first &&
        link === batch.link &&
        place < batch.place &&
        at + grace < batch.at,
    )
    if (ack !== undefined)
      return notMet(`${first} came again, though it was acknowledged up to ${ack.n}`, batch)
  }
  return lured === null
    ? notTested("another boot's acknowledgement could not be tried")
    : met('it kept what another boot was acknowledged for, and let go what its own was')
}

/** LM-26: sending again. */
export const judgeResending: Judge = (all, terms) => {
  if (!buffers(all)) return notTested(NO_BUFFER)
  if (unreadableBatches(all)) return notTested(UNREADABLE)
  let after = 0
  let grown: readonly number[] = []
  for (const link of openLinks(all)) {
    const batches = ofKind(link.messages, 'batch')
    for (const [i, batch] of batches.entries()) {
      // Two may be held up on the way and arrive together; three are not.
      const first = batches[i - 2]
      if (first !== undefined && batch.at - first.at < BUNCH * terms.betweenMs)
        return notMet(`the third batch within ${lasting(batch.at - first.at)}`, batch)
    }
    const [on] = states(link.messages, 'on')
    if (on !== undefined) {
      const held = oldestHeld(all, on.decoded.body.b, on.place)
      const untilAt = link.closedAt ?? all.endedAt
      const limit = terms.resendMs + terms.answerMs
      const freed = acknowledgements(all).some(
        ({ b, n, place, at }) =>
          b === on.decoded.body.b && n >= (held ?? 0) && place > on.place && at < on.at + limit,
      )
      const [first] = batches
      if (held !== null && first !== undefined) after++
      if (held !== null && !freed && Math.min(first?.at ?? Infinity, untilAt) - on.at > limit)
        return notMet(`${held} was not acknowledged, and was not sent again after connecting`, on)
    }
    const pauses = unansweredPauses(all, batches)
    const [one, two] = pauses
    if (one !== undefined && two !== undefined && one.ms + two.ms < (1 + GROWTH) * terms.resendMs)
      return notMet(
        `came again unanswered after ${lasting(one.ms)}, then after ${lasting(two.ms)}: expected ${lasting(terms.resendMs)} and more`,
        two.batch,
      )
    if (pauses.length > grown.length) grown = pauses.map(({ ms }) => ms)
  }
  if (after === 0) return notTested('it never came back with readings that were not acknowledged')
  if (grown.length < 2)
    return notTested('it sends again after connecting; no acknowledgement was withheld for long')
  return met(`after connecting, and unanswered after ${grown.map(lasting).join(', ')}`)
}

/** Pauses between batches that begin at the same number and were not answered. */
function unansweredPauses(
  all: Watched,
  batches: readonly OfKind<'batch'>[],
): readonly { readonly ms: number; readonly batch: OfKind<'batch'> }[] {
  const runs: { ms: number; batch: OfKind<'batch'> }[][] = [[]]
  for (const [i, batch] of batches.entries()) {
    const before = batches[i - 1]
    if (before === undefined) continue
    const { boot, first } = spanOf(before)
    const answered = all.downlinks.some((one) => {
      if (one.place < before.place || one.place > batch.place) return false
      const decoded = decode(one.topic, one.payload)
      return 'kind' in decoded && decoded.kind === 'ack' && decoded.body.b === boot
    })
    const same = spanOf(batch).boot === boot && spanOf(batch).first === first && !answered
    if (same) runs.at(-1)?.push({ ms: batch.at - before.at, batch })
    else runs.push([])
  }
  return runs.reduce((longest, run) => (run.length > longest.length ? run : longest), [])
}
