import { decode, encodeResult } from '../wire/payload.ts'
import type { CfgBody, CmdBody, ResultBody } from '../wire/schemas.ts'
import { formatTopic, parseTopic } from '../wire/topic.ts'
import type { WireMessage } from '../simulator/wire-messages.ts'

/** What a probe keeps over a loss of power. */
export interface ProbeMemory {
  settings: CfgBody | null
  /** Results of the newest commands, so that none is carried out twice. */
  done: readonly ResultBody[]
}

export const freshMemory = (): ProbeMemory => ({ settings: null, done: [] })

const COMMANDS_REMEMBERED = 16
const UINT32_MAX = 4_294_967_295

/** What the probe does for its hub. */
export interface Deeds {
  /** Settings have changed. */
  apply(settings: CfgBody): void
  /** Carries a command out; null when done, else why not. What must follow the answer goes to `after`. */
  carryOut(command: CmdBody, after: (deed: () => void) => void): string | null
  answer(message: WireMessage): void
}

/**
 * Settings and commands as the firmware specification wants them taken: settings as a whole or not at all, a
 * command once by its number, each answered, again when it comes again.
 *
 * @returns takes a message below the probe's own `dn/`; what is neither is left alone
 */
export function obey(
  probe: string,
  memory: ProbeMemory,
  deeds: Deeds,
): (topic: string, payload: Uint8Array, retained: boolean) => void {
  const answer = (result: ResultBody): void =>
    deeds.answer({
      topic: formatTopic({ to: 'hub', probe, leaf: 'res' }),
      payload: encodeResult(result),
      retain: false,
    })

  return (topicText, payload, retained) => {
    const topic = parseTopic(topicText)
    if ('problems' in topic || topic.to !== 'probe' || topic.probe !== probe) return
    if (topic.leaf !== 'cfg' && topic.leaf !== 'cmd') return
    // A kept copy of a command is a mistake of whoever sent it; empty settings say that none are wanted.
    if (payload.length === 0 || (topic.leaf === 'cmd' && retained)) return
    const message = decode(topicText, payload)
    if ('problems' in message) {
      const id = idIn(payload, topic.leaf === 'cfg' ? 'cv' : 'id')
      if (id !== null) answer({ id, ok: false, e: (message.problems[0]?.path ?? '').slice(0, 40) })
    } else if (message.kind === 'cfg') {
      const { body } = message
      if (memory.settings?.cv !== body.cv) {
        memory.settings = body
        deeds.apply(body)
      }
      answer({ id: body.cv, ok: true })
    } else if (message.kind === 'cmd') {
      const { body } = message
      const before = memory.done.find(({ id }) => id === body.id)
      if (before !== undefined) {
        answer(before)
        return
      }
      const follows: (() => void)[] = []
      const refused = deeds.carryOut(body, (deed) => follows.push(deed))
      const result: ResultBody =
        refused === null ? { id: body.id, ok: true } : { id: body.id, ok: false, e: refused }
      memory.done = [result, ...memory.done].slice(0, COMMANDS_REMEMBERED)
      answer(result)
      for (const deed of follows) deed()
    }
  }
}

/** The number of a message that cannot be used otherwise, so that it can be refused by name. */
function idIn(payload: Uint8Array, member: 'cv' | 'id'): number | null {
  try {
    const json: unknown = JSON.parse(new TextDecoder().decode(payload))
    const id: unknown =
      typeof json === 'object' && json !== null ? Reflect.get(json, member) : undefined
    return Number.isInteger(id) && (id as number) >= 0 && (id as number) <= UINT32_MAX
      ? (id as number)
      : null
  } catch {
    return null
  }
}
