import { decode } from '../../wire/payload.ts'
import { PROBE_ID, RESERVED_IDS } from '../../wire/topic.ts'
import {
  brokenByMessage,
  counted,
  evidence,
  met,
  notMet,
  notTested,
  type Judge,
} from './verdict.ts'
import { ofKind, openLinks, states, type Link, type Watched } from './watched.ts'

const MQTT_311 = 4
/** Random bits a password needs, and the most that a byte of it can hold. */
const SECRET_BITS = 80
const BITS_PER_BYTE = 8
/** A password that short would be found in payloads by accident. */
const SECRET_LEAST = 4

const connecting = (all: Watched): readonly (Link & { connect: NonNullable<Link['connect']> })[] =>
  all.links.filter((link): link is Link & { connect: NonNullable<Link['connect']> } =>
    Boolean(link.connect),
  )

/** LM-01: MQTT 3.1.1, or MQTT 5 first and then 3.1.1. */
export const judgeVersion: Judge = (all) => {
  const versions = connecting(all).map(({ connect }) => connect.version)
  const other = versions.find((version) => version !== MQTT_311 && version !== 5)
  if (other !== undefined)
    return notMet(`CONNECT: expected protocol level 4 (MQTT 3.1.1), got ${other}`)
  const five = versions.filter((version) => version === 5).length
  if (versions.includes(MQTT_311))
    return met(five === 0 ? 'MQTT 3.1.1' : 'tries MQTT 5 and falls back when refused')
  return notMet(`${counted(five, 'attempt')} with MQTT 5, refused each time, and none with 3.1.1`)
}

/** LM-02: id, client id and user name. */
export const judgeId: Judge = (all) => {
  if (!PROBE_ID.test(all.probe) || RESERVED_IDS.includes(all.probe))
    return notMet(`the id '${all.probe}' is none a probe may have`)
  for (const { connect } of connecting(all)) {
    if (connect.clientId !== all.probe)
      return notMet(`CONNECT: expected the client id ${all.probe}, got '${connect.clientId}'`)
    if (connect.username !== null && connect.username !== all.probe)
      return notMet(`CONNECT: expected the user name ${all.probe}, got '${connect.username}'`)
  }
  const named = connecting(all).some(({ connect }) => connect.username !== null)
  return (
    brokenByMessage(all, 'LM-02') ??
    met(named ? 'client id and user name are the id' : 'the client id is the id; no user name')
  )
}

/** LM-05: the will. */
export const judgeWill: Judge = (all) => {
  const topic = `lm1/${all.probe}/up/state`
  let seen = 0
  for (const link of connecting(all)) {
    const { will } = link.connect
    if (will === null) return notMet('CONNECT: expected a will, got none')
    if (will.topic !== topic) return notMet(`CONNECT: expected the will at ${topic}`, will)
    if (!will.retain) return notMet('CONNECT: expected a retained will', will)
    const decoded = decode(will.topic, will.payload, { strict: true })
    if ('problems' in decoded)
      return notMet(`will: ${decoded.problems[0]?.message ?? 'cannot be read'}`, will)
    if (decoded.kind !== 'state' || decoded.body.s !== 'off')
      return notMet('will: expected "s":"off"', will)
    const { b } = decoded.body
    const present =
      states(link.messages, 'on')[0]?.decoded.body.b ??
      ofKind(link.messages, 'reading')[0]?.decoded.body.b
    if (present !== undefined && present !== b)
      return notMet(`will: expected the present boot ${present}, got ${b}`, will)
    if (present !== undefined) seen++
  }
  const broken = brokenByMessage(all, 'LM-05')
  if (broken !== null) return broken
  return seen > 0
    ? met(`retained, with the present boot, on ${counted(seen, 'connection')}`)
    : notTested('the probe never said which boot it is in')
}

/** LM-33: password. */
export const judgePassword: Judge = (all) => {
  const secrets = connecting(all).flatMap(({ connect }) =>
    connect.password !== null && connect.password.length > 0 ? [connect.password] : [],
  )
  const [first] = secrets
  if (first === undefined) return notTested('it connects without a password')
  for (const secret of secrets) {
    if (secret.length * BITS_PER_BYTE < SECRET_BITS)
      return notMet(`a password of ${secret.length} bytes cannot hold ${SECRET_BITS} bits`)
    if (secret.length < SECRET_LEAST) continue
    const text = Buffer.from(secret)
    const leak = all.messages.find(({ payload }) => Buffer.from(payload).includes(text))
    // The packet itself is not shown: it holds the password.
    if (leak !== undefined)
      return notMet(`the password stands in a payload at ${evidence(leak).topic}`)
  }
  const looked = `${first.length} bytes long and in none of ${all.messages.length} payloads`
  return met(`${looked}; that it is the probe's own and not in the source cannot be seen from here`)
}

/** LM-34: encryption. */
export const judgeEncryption: Judge = (all) => {
  const open = openLinks(all).length > 0
  return notTested(
    `this check stands between them in plain TCP${open ? '; try a hub with a wrong certificate by hand' : ''}`,
  )
}
