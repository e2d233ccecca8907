import { networkInterfaces } from 'node:os'
import type { ProbeAccess } from '../deps.ts'
import type { ProbeSetup } from '../schemas/access.ts'

const LOOPBACK = /^(localhost|127\.[\d.]+|::1|\[::1\])$/

/** The first address of this machine that others on the network can use. */
function ownAddress(): string | null {
  for (const rows of Object.values(networkInterfaces())) {
    const row = rows?.find(({ family, internal }) => family === 'IPv4' && !internal)
    if (row !== undefined) return row.address
  }
  return null
}

/**
 * Where a probe finds the broker. Where no name is known it is the one under which the page was asked for, and when that
 * is good for this machine alone, an address of it where the broker listens at all of them.
 */
export function brokerFor(
  broker: ProbeAccess['broker'],
  asked: string,
  own: () => string | null = ownAddress,
): ProbeSetup['broker'] {
  const instead = broker.everyAddress && LOOPBACK.test(asked) ? own() : null
  // Boards look names and addresses up as they are; brackets belong to an address of a page (RFC 3986, 3.2.2).
  const host = broker.host ?? instead ?? asked.replace(/^\[(.*)\]$/, '$1')
  const { port, encrypted, plainPort } = broker
  const keySha256 = broker.keySha256()
  return {
    port,
    encrypted,
    plainPort,
    keySha256,
    host,
    reach: LOOPBACK.test(host) ? 'this machine' : 'network',
  }
}

function headerOf(id: string, password: string, broker: ProbeSetup['broker']): string {
  const lines = [
    '/* A probe of its own: id and password for one board only.',
    ' * Keep this file out of any source tree that others see. */',
    '#ifndef LM1_PROBE_H',
    '#define LM1_PROBE_H',
    '',
    '/* Client id and user name. */',
    `#define LM1_PROBE_ID "${id}"`,
    `#define LM1_PROBE_PASSWORD "${password}"`,
    '',
    `#define LM1_BROKER_HOST "${broker.host}"`,
    `#define LM1_BROKER_PORT ${broker.port}`,
    `#define LM1_BROKER_TLS ${broker.encrypted ? 1 : 0}`,
    ...(broker.encrypted && broker.plainPort !== null
      ? [
          '/* Without encryption, for a board that cannot do TLS. */',
          `#define LM1_BROKER_PLAIN_PORT ${broker.plainPort}`,
        ]
      : []),
    ...(broker.keySha256 === null
      ? []
      : [
          "/* SHA-256 of the broker's public key (SubjectPublicKeyInfo), base64: for a board that has no clock",
          ' * to check the dates of a certificate by. It changes when the key does. */',
          `#define LM1_BROKER_KEY_SHA256 "${broker.keySha256}"`,
        ]),
    '',
    '/* Topics: write below the first, read below the second. */',
    `#define LM1_TOPIC_UP "lm1/${id}/up/"`,
    `#define LM1_TOPIC_DOWN "lm1/${id}/dn/"`,
    '',
    '#endif',
    '',
  ]
  return lines.join('\n')
}

/** Everything a firmware author needs of a new password, as file and as line. */
export function probeSetup(id: string, password: string, broker: ProbeSetup['broker']): ProbeSetup {
  const place = `host=${broker.host} port=${broker.port} tls=${broker.encrypted ? 1 : 0}`
  const pin = broker.keySha256 === null ? '' : ` pin=${broker.keySha256}`
  return {
    id,
    password,
    broker,
    header: { name: 'lm1_probe.h', text: headerOf(id, password, broker) },
    line: `lm1 id=${id} pw=${password} ${place}${pin}`,
  }
}
