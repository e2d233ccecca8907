import { z } from 'zod'
import { STRICT } from './schemas.ts'
import type { Kind } from './schemas.ts'

const TITLES: Readonly<Record<Kind, string>> = {
  reading: 'One reading, topic lm1/{id}/up/r',
  batch: 'Late readings, topic lm1/{id}/up/b',
  state: 'State of a probe, topic lm1/{id}/up/state',
  birth: 'Description of a probe, topic lm1/{id}/up/birth',
  channel: 'Description of one channel, topic lm1/{id}/up/ch/{channel}',
  result: 'Answer to a command or to settings, topic lm1/{id}/up/res',
  ack: 'How far the hub has stored, topic lm1/{id}/dn/ack',
  cfg: 'Wanted settings, topic lm1/{id}/dn/cfg',
  cmd: 'One command, topic lm1/{id}/dn/cmd',
  time: "The hub's time, topic lm1/{id}/dn/time",
}

/**
 * What firmware must send, as a JSON Schema (draft 2020-12, json-schema.org). It says all that the hub's own
 * check says of a payload by itself; the rules between members are in `rules.ts`.
 */
export function jsonSchemaOf(kind: Kind): Readonly<Record<string, unknown>> {
  const { $schema, ...rest } = z.toJSONSchema(STRICT[kind], { target: 'draft-2020-12' })
  return { $schema, $id: `urn:loamline:lm1:${kind}`, title: TITLES[kind], ...rest }
}
