import { parseTopic } from '../../wire/topic.ts'
import type { Purpose } from '../record.ts'
import type { Terms } from '../terms.ts'
import { misledBy } from './memory.ts'
import { brokenByMessage, counted, lasting, met, notMet, notTested, type Judge } from './verdict.ts'
import { ofKind, type Downlink, type OfKind, type Watched } from './watched.ts'

const sent = (all: Watched, ...purposes: readonly Purpose[]): readonly Downlink[] =>
  all.downlinks.filter(({ purpose }) => purpose !== null && purposes.includes(purpose))

/** What the probe said on the same link within the time of an answer, up to the next thing asked of it. */
function after(all: Watched, down: Downlink, terms: Terms): Watched['messages'] {
  const next = all.downlinks.find(
    ({ place, purpose }) => place > down.place && purpose !== null && purpose !== 'acknowledgement',
  )
  return all.messages.filter(
    ({ link, place, at }) =>
      link === down.link &&
      place > down.place &&
      at <= down.at + terms.answerMs &&
      place < (next?.place ?? Infinity),
  )
}

/** The id a command, or the version settings, carry; null when they are broken on purpose. */
function idOf({ payload }: Downlink): number | null {
  const found = /"(?:id|cv)":(\d+)/.exec(Buffer.from(payload).toString())?.[1]
  return found === undefined ? null : Number(found)
}

const answersTo = (all: Watched, down: Downlink, terms: Terms): readonly OfKind<'result'>[] =>
  ofKind(after(all, down, terms), 'result').filter(({ decoded }) => decoded.body.id === idOf(down))

/** True when nothing at all came from the probe after a downlink, up to the end. */
const silentAfter = (all: Watched, { place }: Downlink): boolean =>
  !all.happenings.slice(place + 1).some(({ kind }) => kind === 'up')

/** The downlink the probe fell silent at, if it did. */
const fellSilentAt = (all: Watched): Downlink | undefined =>
  all.downlinks.find(
    (down) => down.purpose !== null && down.purpose !== 'acknowledgement' && silentAfter(all, down),
  )

/** LM-04: sizes of packets to the probe. */
export const judgeIncoming: Judge = (all, terms) => {
  const [large] = sent(all, 'oversized packet')
  const [small] = sent(all, 'command of 128 bytes')
  if (large === undefined || small === undefined)
    return notTested('it was not connected, or had not subscribed, when packets were to be sent')
  const culprit = fellSilentAt(all)?.purpose
  if (culprit === 'oversized packet') return notMet('nothing more came after it', large)
  if (culprit === 'command of 128 bytes') return notMet('nothing more came after it', small)
  for (const [down, words] of [
    [small, '128 bytes'],
    [large, 'a large packet'],
  ] as const) {
    const link = all.links.find(({ index }) => index === down.link)
    if (link?.closedBy === 'probe' && (link.closedAt ?? Infinity) < down.at + terms.answerMs)
      return notMet(`it closed the connection on ${words}`, down)
  }
  const commands = sent(all, 'command')
  const obeys = commands.some((command) => answersTo(all, command, terms).length > 0)
  if (obeys && answersTo(all, small, terms).length === 0)
    return notMet('it answers commands, and not one of 128 bytes', small)
  return met(
    obeys
      ? 'answered a command of 128 bytes and outlived a packet of 4 kB'
      : 'outlived packets of 128 bytes and of 4 kB; it answers no command, so that it read them was not seen',
  )
}

/** LM-28: settings. */
export const judgeSettings: Judge = (all, terms) => {
  const bad = sent(all, 'settings out of range', 'broken settings')
  const good = sent(all, 'settings in range')
  for (const down of bad) {
    const id = idOf(down)
    const taken = answersTo(all, down, terms).find(({ decoded }) => decoded.body.ok)
    if (taken !== undefined) return notMet('it accepted settings out of range', down)
    const inForce = ofKind(all.messages, 'birth').find(
      ({ place, decoded }) => place > down.place && id !== null && decoded.body.cv === id,
    )
    if (inForce !== undefined) return notMet('settings out of range are in force', down)
  }
  if (bad.length === 0) return notTested('no settings could be sent')
  const answers = [...bad, ...good].flatMap((down) => answersTo(all, down, terms))
  if (answers.length === 0) return notTested('it answers no settings')
  for (const down of bad) {
    if (down.purpose === 'settings out of range' && answersTo(all, down, terms).length === 0)
      return notMet('no answer came', down)
  }
  const accepted = good.flatMap((down) => answersTo(all, down, terms))
  const refused = good.find((down) =>
    answersTo(all, down, terms).every(({ decoded }) => !decoded.body.ok),
  )
  if (refused !== undefined)
    return notMet(
      accepted.length === 0
        ? 'no answer came to settings in range'
        : 'it refused settings in range',
      refused,
    )
  return met(
    'refused what is out of range, accepted what is in range; over a loss of power was not watched',
  )
}

/** LM-29: commands. */
export const judgeCommands: Judge = (all, terms) => {
  const first = sent(all, 'command')
  const again = sent(all, 'the same command again')
  const obeyed = first.filter((down) => ofKind(after(all, down, terms), 'birth').length > 0)
  for (const down of again) {
    const [birth] = ofKind(after(all, down, terms), 'birth')
    if (birth !== undefined && obeyed.some((one) => idOf(one) === idOf(down)))
      return notMet('it carried the same command out again', down)
  }
  if (first.length === 0) return notTested('no command could be sent')
  if (obeyed.length === 0) return notTested('it takes no command')
  const mute = obeyed.find((down) => answersTo(all, down, terms).length === 0)
  if (mute !== undefined) return notMet('it carried the command out and gave no answer', mute)
  return again.length === 0
    ? notTested('no command could be sent twice')
    : met(
        `once, though ${counted(again.length + 1, 'copy').replace('copys', 'copies')} came; over a reboot was not watched`,
      )
}

/** LM-30: its own topics. */
export const judgeTopics: Judge = (all, terms) => {
  const broken = brokenByMessage(all, 'LM-30')
  if (broken !== null) return broken
  for (const message of all.messages) {
    const topic = parseTopic(message.topic)
    if ('problems' in topic) continue
    if (topic.to !== 'hub' || topic.probe !== all.probe)
      return notMet(`expected topics below lm1/${all.probe}/up/`, message)
  }
  for (const down of sent(all, "another probe's command")) {
    const answers = after(all, down, terms)
    const acted = ofKind(answers, 'birth').length + ofKind(answers, 'result').length
    if (acted > 0) return notMet("it acted on another probe's command", down)
  }
  const lured = misledBy(all, "another probe's acknowledgement", terms)
  if (lured?.broken) return lured.broken
  const tried = [
    ...(sent(all, "another probe's command").length > 0 ? ["another probe's command"] : []),
    ...(lured === null ? [] : ["another probe's acknowledgement"]),
  ]
  return met(
    `${counted(all.messages.length, 'message')} at its own topics` +
      (tried.length > 0 ? `; it passed over ${tried.join(' and ')}` : ''),
  )
}

/** LM-35: a day of trouble. */
export const judgeSoak: Judge = (all, terms) => {
  const hostile = sent(all, 'broken settings', 'broken command', 'settings out of range')
  const culprit = fellSilentAt(all)
  if (culprit !== undefined && hostile.includes(culprit))
    return notMet('nothing more came after it', culprit)
  const cuts = all.deeds.filter(({ deed }) => deed === 'cut' || deed === 'black hole')
  const since = Math.min(...cuts.map(({ at }) => at), ...hostile.map(({ at }) => at), all.endedAt)
  const words = `${counted(cuts.length, 'cut')} and ${counted(hostile.length, 'broken message')} in ${lasting(all.endedAt - since)} outlived`
  return all.endedAt - since >= terms.soakMs
    ? met(words)
    : notTested(`${words}; a day is asked for`)
}
