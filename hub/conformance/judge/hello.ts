import { brokenByMessage, counted, met, notMet, notTested, type Judge } from './verdict.ts'
import { described, listed, ofKind, openLinks, states, type Message } from './watched.ts'
import type { Terms } from '../terms.ts'
import type { Watched } from './watched.ts'

/** A boot whose first `on` says at most this uptime began while the check watched, s. */
const JUST_STARTED_S = 60
const MOST_CHANNELS = 16

const carriesReadings = ({ decoded }: Message): boolean =>
  decoded?.kind === 'reading' || decoded?.kind === 'batch' || decoded?.kind === 'plain'

/** LM-06: subscribe, then `on`, then readings, on every connection. */
export const judgeHelloOrder: Judge = (all) => {
  let seen = 0
  for (const { messages, subscribedPlace } of openLinks(all)) {
    const [on] = states(messages, 'on')
    const early = messages.find(
      (message) => carriesReadings(message) && (on === undefined || message.place < on.place),
    )
    if (early !== undefined) return notMet('came before "on" on its connection', early)
    if (on === undefined) continue
    if (subscribedPlace === null || subscribedPlace > on.place)
      return notMet(`"on" came before a subscription to lm1/${all.probe}/dn/#`, on)
    if (!on.retain) return notMet('"on" is not retained', on)
    seen++
  }
  return (
    brokenByMessage(all, 'LM-06') ??
    (seen > 0 ? met(`on ${counted(seen, 'connection')}`) : notMet('it never said "on"'))
  )
}

/** LM-07: birth and channels. */
export const judgeBirth: Judge = (all, terms) => {
  const described = all.messages.filter(
    ({ decoded }) => decoded?.kind === 'birth' || decoded?.kind === 'channel',
  )
  const loose = described.find(({ retain }) => !retain)
  if (loose !== undefined) return notMet('is not retained', loose)
  const missing = missingAtBoot(all) ?? missingAfterHello(all, terms)
  if (missing !== null) return missing
  const boots = startedBoots(all)
  const hellos = answeredHellos(all)
  if (boots.length === 0 && hellos === 0)
    return notTested('it was already on and answers no command: switch it off and on once')
  return met(
    `after ${[
      ...(boots.length > 0 ? [counted(boots.length, 'start')] : []),
      ...(hellos > 0 ? ['hello'] : []),
    ].join(' and ')}`,
  )
}

/** Boots that began while the check watched, and were there long enough to say what they are. */
function startedBoots(all: Watched): readonly (Message & { readonly boot: number })[] {
  const seen = new Set<number>()
  return states(all.messages, 'on').flatMap((on) => {
    const { b, u } = on.decoded.body
    if (seen.has(b) || (u ?? Infinity) > JUST_STARTED_S) return []
    seen.add(b)
    const spoke = all.rows.some(({ boot, message }) => boot === b && message.place > on.place)
    return spoke ? [{ ...on, boot: b }] : []
  })
}

function missingAtBoot(all: Watched): ReturnType<Judge> | null {
  for (const on of startedBoots(all)) {
    const birth = ofKind(all.messages, 'birth').find(({ decoded }) => decoded.body.b === on.boot)
    if (birth === undefined) return notMet(`boot ${on.boot} never said what it is at up/birth`, on)
    const lacking = lackingChannel(all, birth, all.endedAt)
    if (lacking !== null) return notMet(`channel ${lacking} was never described`, birth)
  }
  return null
}

function missingAfterHello(all: Watched, terms: Terms): ReturnType<Judge> | null {
  for (const hello of hellos(all)) {
    const until = hello.at + terms.answerMs
    const answers = all.messages.filter(
      ({ at, place, link }) => link === hello.link && place > hello.place && at <= until,
    )
    const obeyed = ofKind(answers, 'result').some(({ decoded }) => decoded.body.ok)
    if (!obeyed) continue
    const [birth] = ofKind(answers, 'birth')
    if (birth === undefined) return notMet('hello was answered, and no birth came after it', hello)
    const lacking = lackingChannel(all, birth, until)
    if (lacking !== null) return notMet(`channel ${lacking} did not come after hello`, birth)
  }
  return null
}

const hellos = (all: Watched): Watched['downlinks'] =>
  all.downlinks.filter(({ purpose }) => purpose === 'command' || purpose === 'command of 128 bytes')

const answeredHellos = (all: Watched): number =>
  hellos(all).filter((hello) =>
    ofKind(all.messages, 'birth').some(
      ({ link, place }) => link === hello.link && place > hello.place,
    ),
  ).length

function lackingChannel(
  all: Watched,
  birth: Message & { readonly decoded: { readonly body: { readonly ch: string } } },
  until: number,
): string | null {
  // One that cannot be read is told by the requirement it breaks.
  const came = new Set(
    all.messages.flatMap(({ at, link, place, topic }) => {
      const [, name] = /\/up\/ch\/([^/]*)$/.exec(topic) ?? []
      // Some describe their channels just before.
      const counts = link === birth.link && (place < birth.place || at <= until)
      return name !== undefined && counts ? [name] : []
    }),
  )
  return birth.decoded.body.ch.split(',').find((name) => !came.has(name)) ?? null
}

/** LM-08: channels. */
export const judgeChannels: Judge = (all) => {
  const broken = brokenByMessage(all, 'LM-08')
  if (broken !== null) return broken
  const names = listed(all)
  const plain = ofKind(all.messages, 'plain')
  if (names === null) {
    return plain.length > 0 && all.rows.length === 0
      ? met('names of plain numbers only')
      : notTested('no birth came, so its list of channels is not known')
  }
  const about = described(all)
  for (const { values, message } of all.rows) {
    for (const name of values.keys()) {
      if (!names.includes(name)) return notMet(`channel ${name} is not listed in birth.ch`, message)
      if (!about.has(name))
        return notMet(`channel ${name} is not described at up/ch/${name}`, message)
    }
  }
  const lost = names.find((name) => !about.has(name))
  if (lost !== undefined) return notMet(`channel ${lost} is listed in birth.ch and not described`)
  const all16 = new Set([...names, ...about.keys()])
  if (all16.size > MOST_CHANNELS)
    return notMet(`expected at most ${MOST_CHANNELS} channels, got ${all16.size}`)
  return met(`${names.join(', ')}`)
}
