import { counted, lasting, met, notMet, notTested, type Judge } from './verdict.ts'
import { openLinks } from './watched.ts'

/** Longest wait for a probe to notice, in keep-alives. */
const KEEP_ALIVES = 1.5
/** Fewer pauses say nothing of how they grow. */
const LEAST_PAUSES = 4
/** A first pause is spread too, and never shorter than this share. */
const FIRST_SHARE = 0.5
const GROWTH = 2
/** Spread by 20 % either way, the longest pauses differ by less than this share once in thousands of runs. */
const SPREAD_SHARE = 0.05
/** Refused so many longest pauses long, a probe has reached it. */
const LONG_ENOUGH = 5

/** LM-21: a dead link. */
export const judgeDeadLink: Judge = (all, terms) => {
  const [least, most] = terms.keepAliveS
  for (const { connect } of openLinks(all)) {
    const { keepAliveS } = connect ?? { keepAliveS: 0 }
    if (keepAliveS < least || keepAliveS > most)
      return notMet(`CONNECT: expected a keep-alive of ${least} to ${most} s, got ${keepAliveS}`)
  }
  let slowest = 0
  let holes = 0
  for (const { at, deed } of all.deeds) {
    if (deed !== 'black hole') continue
    const link = openLinks(all).findLast(({ openedAt }) => openedAt <= at)
    if (link === undefined || (link.closedAt !== null && link.closedAt < at)) continue
    const silentSince = at - KEEP_ALIVES * (link.connect?.keepAliveS ?? 0) * 1000
    // A probe that had fallen silent before has nothing to notice.
    if (!all.happenings.some((one) => one.kind === 'up' && one.at >= silentSince && one.at <= at))
      continue
    const limit = KEEP_ALIVES * (link.connect?.keepAliveS ?? 0) * 1000 + terms.deadLinkMs
    const next = all.links.find(({ openedAt }) => openedAt > at)?.openedAt ?? Infinity
    const noticed = Math.min(next, link.closedBy === 'probe' ? (link.closedAt ?? next) : next)
    if (Math.min(noticed, all.endedAt) - at > limit)
      return notMet(
        `nothing passed for ${lasting(limit)} with a keep-alive of ${link.connect?.keepAliveS ?? 0} s, and it did not notice`,
      )
    if (noticed === Infinity) continue
    holes++
    slowest = Math.max(slowest, noticed - at)
  }
  return holes === 0
    ? notTested('the keep-alive is in range; no link was left dead')
    : met(`noticed after ${lasting(slowest)} at most`)
}

/** LM-22: connecting again. */
export const judgeReconnect: Judge = (all, terms) => {
  const { firstPauseMs, longestPauseMs } = terms
  let short = 'it was never refused'
  let seen = ''
  for (const from of all.deeds.filter(({ deed }) => deed === 'refuse')) {
    const to = all.deeds.find(({ deed, place }) => deed === 'let in' && place > from.place)
    const untilAt = to?.at ?? all.endedAt
    const attempts = all.happenings.flatMap((one) =>
      one.kind === 'refused' && one.at >= from.at && one.at <= untilAt ? [one.at] : [],
    )
    const pauses = [from.at, ...attempts].flatMap((at, i, list) =>
      i === 0 ? [] : [at - (list[i - 1] ?? at)],
    )
    const [first = 0] = pauses
    const longest = Math.max(0, ...pauses)
    const words = `${counted(attempts.length, 'attempt')} in ${lasting(untilAt - from.at)}, pauses from ${lasting(first)} to ${lasting(longest)}`
    if (pauses.length < LEAST_PAUSES) {
      short = `${words}: too few to see how they grow`
      continue
    }
    if (first < FIRST_SHARE * firstPauseMs)
      return notMet(`${words}: expected ${lasting(firstPauseMs)} before the first`)
    const half = Math.floor(pauses.length / 2)
    const later = pauses.slice(half).toSorted((a, b) => a - b)
    // The one in the middle against the shortest of the first: a pause drawn out by chance, by a machine that was busy
    // or a slow network, is neither growth nor the lack of it.
    if ((later[Math.floor(later.length / 2)] ?? 0) < GROWTH * Math.min(...pauses.slice(0, half)))
      return notMet(`${words}: they do not grow`)
    if (untilAt - from.at < LONG_ENOUGH * longestPauseMs) {
      short = `${words}; whether they reach ${lasting(longestPauseMs)}, and are spread, takes longer`
      continue
    }
    if (longest < longestPauseMs)
      return notMet(`${words}: expected them to reach ${lasting(longestPauseMs)}`)
    // From where they stop growing.
    const top = pauses.slice(pauses.findIndex((pause) => pause >= longest / 2) + 1)
    if (top.length >= LEAST_PAUSES - 1 && (longest - Math.min(...top)) / longest < SPREAD_SHARE)
      return notMet(`${words}: the longest are not spread`)
    seen = words
  }
  return seen === '' ? notTested(short) : met(seen)
}
