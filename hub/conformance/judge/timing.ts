import { brokenByMessage, counted, met, notMet, notTested, type Judge } from './verdict.ts'
import { ofKind } from './watched.ts'

/** How far a synchronised clock may be off, ms. */
const EPOCH_MS = 60_000
/** A probe's count of seconds may run slow by this share, and is rounded to whole seconds. */
const SLOW_SHARE = 0.1
const ROUNDING_S = 1

/** LM-14: time of day. */
export const judgeEpoch: Judge = (all, terms) => {
  const broken = brokenByMessage(all, 'LM-14')
  if (broken !== null) return broken
  const timed = ofKind(all.messages, 'reading').filter(
    ({ decoded }) => decoded.body.t !== undefined,
  )
  for (const message of timed) {
    const off = Math.abs((message.decoded.body.t ?? 0) * 1000 - message.at)
    if (off > EPOCH_MS + terms.freshMs)
      return notMet(`t is ${Math.round(off / 1000)} s off the clock of this computer`, message)
  }
  if (timed.length > 0) return met(`${counted(timed.length, 'reading')} with t, within 60 s`)
  return ofKind(all.messages, 'reading').length > 0
    ? met('it sends no t')
    : notTested('no live reading came')
}

/** LM-15: late readings. */
export const judgeLateness: Judge = (all, terms) => {
  const anchors = new Map<number, { readonly u: number; readonly at: number }>()
  const newest = new Map<number, { readonly n: number; readonly u: number }>()
  let live = 0
  for (const message of all.messages) {
    const { decoded, at } = message
    if (decoded === null) continue
    if (decoded.kind === 'state' && decoded.body.u !== undefined)
      anchors.set(decoded.body.b, { u: decoded.body.u, at })
    if (decoded.kind === 'batch')
      anchors.set(decoded.body.nb ?? decoded.body.b, { u: decoded.body.u, at })
    if (decoded.kind !== 'reading') continue
    live++
    const { b, n, u } = decoded.body
    const before = newest.get(b)
    // Time that falls while the count rises is told by LM-13.
    if (before !== undefined && n > before.n && u < before.u) continue
    if (before === undefined || n > before.n) newest.set(b, { n, u })
    const anchor = anchors.get(b)
    if (anchor !== undefined) {
      const nowS = anchor.u + ((1 - SLOW_SHARE) * (at - anchor.at)) / 1000 - ROUNDING_S
      if (nowS - u > terms.freshMs / 1000)
        return notMet(`measured ${Math.round(nowS - u)} s before it was sent to up/r`, message)
    }
    if (anchor === undefined || u >= anchor.u) anchors.set(b, { u, at })
  }
  if (live === 0) return notTested('no live reading came')
  const late = ofKind(all.messages, 'batch').length
  return met(
    `${counted(live, 'live reading')}, none older than 10 s` +
      (late > 0 ? '; older ones in batches' : '; it was never cut off while it measured'),
  )
}
