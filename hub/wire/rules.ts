import { shown } from './problem.ts'
import type { Problem } from './problem.ts'
import { UINT32_MAX, UNITS_OF, VALUE_LIMIT } from './schemas.ts'
import type { BatchBody, ChannelBody, CmdBody, Kind, StateBody } from './schemas.ts'
import type { Topic } from './topic.ts'

/** Rules a JSON Schema cannot state. `notes` are broken ones the hub can live with. */
export interface Broken {
  readonly problems: readonly Problem[]
  readonly notes: readonly Problem[]
}

const NONE: Broken = { problems: [], notes: [] }

/** Checks the rules of one payload that has passed its schema. */
export function brokenRules(kind: Kind, body: unknown, topic: Topic): Broken {
  switch (kind) {
    case 'batch':
      return batchRules(body as BatchBody)
    case 'state':
      return stateRules(body as StateBody)
    case 'channel':
      return channelRules(body as ChannelBody, 'channel' in topic ? topic.channel : '')
    case 'cmd':
      return cmdRules(body as CmdBody)
    case 'reading':
    case 'birth':
    case 'result':
    case 'ack':
    case 'cfg':
    case 'time':
      return NONE
  }
}

function batchRules(body: BatchBody): Broken {
  const problems: Problem[] = []
  if (new Set(body.c).size !== body.c.length)
    problems.push(broken('c', 'LM-08', `c: expected every channel once, got ${shown(body.c)}`))
  if (body.nb === body.b)
    problems.push(
      broken('nb', 'LM-12', 'nb: expected another boot id than b, or no nb for rows of this boot'),
    )
  let before: readonly (number | null)[] | null = null
  for (const [i, row] of body.r.entries()) {
    const [seq, uptime] = row
    const path = `r.${i}`
    if (row.length !== body.c.length + 2) {
      const message =
        `${path}: expected sequence number, uptime and ${body.c.length} values ` +
        `(one for each channel of c), got ${row.length} entries`
      problems.push(broken(path, 'LM-10', message))
    }
    if (!isUint32(seq))
      problems.push(
        broken(`${path}.0`, 'LM-11', `${path}.0: expected a sequence number, got ${shown(seq)}`),
      )
    if (!isUint32(uptime))
      problems.push(
        broken(
          `${path}.1`,
          'LM-13',
          `${path}.1: expected uptime in whole seconds, got ${shown(uptime)}`,
        ),
      )
    else if (body.nb === undefined && uptime > body.u)
      problems.push(
        broken(
          `${path}.1`,
          'LM-13',
          `${path}.1: expected at most the uptime when sent (u = ${body.u}), got ${uptime}`,
        ),
      )
    for (const [k, value] of row.entries()) {
      if (k < 2 || value === null || value <= VALUE_LIMIT) continue
      const message = `${path}.${k}: expected a number from -1e9 to 1e9, got ${shown(value)}`
      problems.push(broken(`${path}.${k}`, 'LM-10', message))
    }
    if (before !== null) {
      const [seqBefore, uptimeBefore] = before
      if (!((seq ?? NaN) > (seqBefore ?? NaN)))
        problems.push(
          broken(
            `${path}.0`,
            'LM-24',
            `${path}.0: expected rows oldest first (above ${shown(seqBefore)}), got ${shown(seq)}`,
          ),
        )
      if (!((uptime ?? NaN) >= (uptimeBefore ?? NaN)))
        problems.push(
          broken(
            `${path}.1`,
            'LM-13',
            `${path}.1: expected uptime that never falls within a boot ` +
              `(from ${shown(uptimeBefore)}), got ${shown(uptime)}`,
          ),
        )
    }
    before = row
  }
  return { problems, notes: [] }
}

function stateRules(body: StateBody): Broken {
  const notes: Problem[] = []
  if (body.s !== 'off' && body.u === undefined)
    notes.push(
      broken('u', 'LM-06', `u: expected uptime in whole seconds with "${body.s}", got nothing`),
    )
  if (body.s === 'sleep' && body.nx === undefined)
    notes.push(broken('nx', 'LM-31', 'nx: expected seconds of sleep to come, got nothing'))
  return { problems: [], notes }
}

function channelRules(body: ChannelBody, name: string): Broken {
  const problems: Problem[] = []
  if (!UNITS_OF[body.q].includes(body.u)) {
    const message = `u: expected ${UNITS_OF[body.q].join(' or ')} for ${body.q}, got ${shown(body.u)}`
    problems.push(broken('u', 'LM-08', message))
  }
  if (body.lo !== undefined && body.hi !== undefined && body.lo >= body.hi)
    problems.push(broken('hi', 'LM-10', `hi: expected more than lo (${body.lo}), got ${body.hi}`))
  if (body.from === name)
    problems.push(broken('from', 'LM-17', `from: expected another channel than ${name} itself`))
  return { problems, notes: [] }
}

function cmdRules(body: CmdBody): Broken {
  if (body.do !== 'resend' || (body.b !== undefined && body.n !== undefined)) return NONE
  const message = 'b: expected b and n with "resend": from which reading of which boot'
  return { problems: [broken('b', 'LM-29', message)], notes: [] }
}

function isUint32(value: number | null | undefined): value is number {
  return Number.isInteger(value) && Number(value) >= 0 && Number(value) <= UINT32_MAX
}

function broken(path: string, clause: string, message: string): Problem {
  return { path, clause, message }
}
