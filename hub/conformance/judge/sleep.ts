import { brokenByMessage, counted, lasting, met, notMet, notTested, type Judge } from './verdict.ts'
import { ofKind, openLinks, states, type Link, type OfKind, type Watched } from './watched.ts'

/** A wake may miss its time by this share, and by this while it connects, ms. */
const WAKE_SHARE = 0.1
const CONNECTING_MS = 15_000
/** Wait for retained messages after subscribing, ms. */
const WAIT_LEAST_MS = 500
const WAIT_MOST_MS = 2000
/** What the way to the probe and back may take away or add, ms. */
const WAY_MS = 100

function sleeps(all: Watched): readonly { readonly link: Link; readonly sleep: OfKind<'state'> }[] {
  return openLinks(all).flatMap((link) => {
    const sleep = states(link.messages, 'sleep').at(-1)
    return sleep === undefined ? [] : [{ link, sleep }]
  })
}

const neverSlept = (all: Watched): ReturnType<Judge> =>
  notTested(
    ofKind(all.messages, 'birth').some(({ decoded }) =>
      (decoded.body.x ?? '').split('+').includes('Z'),
    )
      ? 'it claims Z, and never said "sleep" meanwhile'
      : 'it does not sleep',
  )

/** LM-31: sleeping. */
export const judgeSleep: Judge = (all) => {
  const broken = brokenByMessage(all, 'LM-31')
  if (broken !== null) return broken
  let woke = 0
  for (const { link, sleep } of sleeps(all)) {
    if (link.closedBy === 'probe' && link.disconnectAt === null)
      return notMet('it went without DISCONNECT: the broker publishes the will', sleep)
    const { nx } = sleep.decoded.body
    if (nx === undefined) continue
    const next = all.links.find(({ openedAt }) => openedAt > sleep.at)?.openedAt
    const due = sleep.at + nx * 1000
    const slack = WAKE_SHARE * nx * 1000
    if (next === undefined) {
      if (all.endedAt > due + slack + CONNECTING_MS) return notMet(`it did not wake in time`, sleep)
      continue
    }
    if (next < due - slack || next > due + slack + CONNECTING_MS)
      return notMet(`it slept for ${lasting(next - sleep.at)} instead of ${nx} s`, sleep)
    woke++
  }
  if (woke > 0) return met(`${counted(woke, 'sleep')}`)
  return sleeps(all).length === 0 ? neverSlept(all) : notTested('it did not wake while watched')
}

/** LM-32: waiting before a sleep. */
export const judgeWait: Judge = (all) => {
  let seen = 0
  for (const { link, sleep } of sleeps(all)) {
    if (link.subackAt === null)
      return notMet('it went to sleep before its subscription was confirmed', sleep)
    const waited = sleep.at - link.subackAt
    if (waited < WAIT_LEAST_MS - WAY_MS)
      return notMet(`it waited ${lasting(waited)} for retained messages`, sleep)
    const idle = sleep.at - lastBusy(all, link, sleep)
    if (idle > WAIT_MOST_MS + WAY_MS)
      return notMet(`it stayed awake for ${lasting(idle)} with nothing to do`, sleep)
    seen++
  }
  return seen === 0 ? neverSlept(all) : met(`before ${counted(seen, 'sleep')}`)
}

/** When something last happened that a probe may stay awake for. */
function lastBusy(all: Watched, link: Link, sleep: OfKind<'state'>): number {
  const sent = link.messages.filter(({ place }) => place < sleep.place).map(({ at }) => at)
  const got = all.downlinks
    .filter(({ link: index, place }) => index === link.index && place < sleep.place)
    .map(({ at }) => at)
  return Math.max(link.subackAt ?? 0, ...sent, ...got)
}
