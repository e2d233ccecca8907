import { z } from 'zod'
import { STRICT } from './schemas.ts'
import type { Kind } from './schemas.ts'
import { CHANNEL_NAME, PREFIX, PROBE_ID } from './topic.ts'

interface Leaf {
  readonly kind: Kind
  readonly from: 'probe' | 'hub'
  /** Below `up/` or `dn/`. */
  readonly leaf: string
  readonly retain: boolean
  readonly qos: 0 | 1
  readonly summary: string
}

const LEAVES: readonly Leaf[] = [
  {
    kind: 'reading',
    from: 'probe',
    leaf: 'r',
    retain: false,
    qos: 1,
    summary: 'One reading, measured at most 10 s ago',
  },
  {
    kind: 'batch',
    from: 'probe',
    leaf: 'b',
    retain: false,
    qos: 1,
    summary: 'Late readings, oldest first',
  },
  {
    kind: 'state',
    from: 'probe',
    leaf: 'state',
    retain: true,
    qos: 1,
    summary: 'On, off (the will) or asleep',
  },
  {
    kind: 'birth',
    from: 'probe',
    leaf: 'birth',
    retain: true,
    qos: 1,
    summary: 'What the probe is',
  },
  {
    kind: 'channel',
    from: 'probe',
    leaf: 'ch/{channel}',
    retain: true,
    qos: 1,
    summary: 'What one channel is',
  },
  {
    kind: 'result',
    from: 'probe',
    leaf: 'res',
    retain: false,
    qos: 1,
    summary: 'Answer to settings or to a command',
  },
  {
    kind: 'ack',
    from: 'hub',
    leaf: 'ack',
    retain: true,
    qos: 0,
    summary: 'How far the hub has stored',
  },
  { kind: 'time', from: 'hub', leaf: 'time', retain: false, qos: 0, summary: "The hub's time" },
  { kind: 'cfg', from: 'hub', leaf: 'cfg', retain: true, qos: 1, summary: 'Wanted settings' },
  { kind: 'cmd', from: 'hub', leaf: 'cmd', retain: false, qos: 1, summary: 'One command' },
]

/** A property of the MQTT binding of AsyncAPI. */
const BINDING = '0.2.0'

/**
 * The wire format as an AsyncAPI 3.0 document, seen from the probe: it sends what goes `up` and receives what comes
 * `dn`. Payload schemas are JSON Schema draft-07, which AsyncAPI's own checkers look into, made from the same source as
 * the draft 2020-12 files.
 */
export function asyncApiDocument(): Readonly<Record<string, unknown>> {
  const id = ({ kind }: Leaf): string => kind
  const payload = (kind: Kind): unknown => {
    const { $schema: _, ...schema } = z.toJSONSchema(STRICT[kind], { target: 'draft-07' })
    return schema
  }
  const way = ({ from }: Leaf): 'up' | 'dn' => (from === 'probe' ? 'up' : 'dn')
  return {
    asyncapi: '3.0.0',
    info: {
      title: 'Loamline probes',
      version: '1.0.0',
      description:
        'What a probe sends to a hub and what it hears from it, over MQTT 3.1.1. The rules a schema cannot state are in README.md beside this file.',
      license: { name: 'MIT' },
    },
    defaultContentType: 'application/json',
    servers: {
      hub: {
        host: 'hub.local:1883',
        protocol: 'mqtt',
        protocolVersion: '3.1.1',
        description: 'The built-in broker of the hub, or a broker beside it.',
      },
    },
    channels: Object.fromEntries(
      LEAVES.map((leaf) => [
        id(leaf),
        {
          address: `${PREFIX}/{probe}/${way(leaf)}/${leaf.leaf}`,
          summary: leaf.summary,
          messages: { [leaf.kind]: { $ref: `#/components/messages/${leaf.kind}` } },
          parameters: {
            probe: { $ref: '#/components/parameters/probe' },
            ...(leaf.leaf.includes('{channel}')
              ? { channel: { $ref: '#/components/parameters/channel' } }
              : {}),
          },
        },
      ]),
    ),
    operations: Object.fromEntries(
      LEAVES.map((leaf) => [
        `${leaf.from === 'probe' ? 'send' : 'receive'}-${leaf.kind}`,
        {
          action: leaf.from === 'probe' ? 'send' : 'receive',
          channel: { $ref: `#/channels/${id(leaf)}` },
          summary: leaf.summary,
          messages: [{ $ref: `#/channels/${id(leaf)}/messages/${leaf.kind}` }],
          bindings: { mqtt: { qos: leaf.qos, retain: leaf.retain, bindingVersion: BINDING } },
        },
      ]),
    ),
    components: {
      messages: Object.fromEntries(
        LEAVES.map(({ kind, summary }) => [
          kind,
          { name: kind, title: summary, contentType: 'application/json', payload: payload(kind) },
        ]),
      ),
      parameters: {
        probe: {
          description: `Id of the probe, ${PROBE_ID.source}; also its MQTT user name and client id`,
        },
        channel: { description: `Name of the channel, ${CHANNEL_NAME.source}` },
      },
    },
  }
}
