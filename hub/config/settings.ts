import { z } from 'zod'
import { isZone } from '../model/zone.ts'

/** One setting: how it is named in the environment and the config file, and what it means. */
export interface SettingInfo {
  /** Key in the config file. */
  readonly key: keyof Config
  /** Environment variable; it wins over the file. */
  readonly env: string
  readonly unit: string
  /** As text; what holds when nothing is said. */
  readonly default: string
  readonly sentence: string
}

/**
 * A number from the environment, where it is text, or from the file. Plain decimals alone: `true`, an empty
 * text or '0x50' is a slip that would otherwise pass as 1, 0 or 80.
 */
function amount(schema: z.ZodNumber) {
  return z.preprocess(
    (value) =>
      typeof value === 'string' && /^\s*\d+(\.\d+)?\s*$/.test(value) ? Number(value) : value,
    schema,
  )
}
function whole(least: number, most: number) {
  const expected = `a whole number from ${least} to ${most}`
  return amount(z.number(expected).int(expected).min(least, expected).max(most, expected))
}
const port = whole(1, 65_535)
const text = z.string('some text').trim().min(1, 'some text')
const host = text.regex(
  /^[^[\]\s/]+$/,
  'a name or an address without brackets and port, such as 192.168.1.20 or ::',
)

/**
 * Everything that can be set. Values are checked here and passed down as values: nothing below `hub.ts`
 * reads the environment.
 */
export const configSchema = z.strictObject({
  dataDir: text.default('loamline-data'),
  httpHost: host.default('127.0.0.1'),
  httpPort: port.default(8090),
  httpNames: text
    .regex(/^[A-Za-z0-9._-]+([\s,]+[A-Za-z0-9._-]+)*$/, 'names with commas between them')
    .nullable()
    .default(null),
  httpCertificate: text.nullable().default(null),
  httpKey: text.nullable().default(null),
  httpHstsDays: whole(0, 730).default(0),
  proxyHeader: z
    .enum(
      ['x-forwarded-for', 'forwarded', 'x-real-ip', 'none'],
      'x-forwarded-for, forwarded, x-real-ip or none',
    )
    .default('x-forwarded-for'),
  mqttHost: host.default('127.0.0.1'),
  mqttPort: port.default(1883),
  mqttPlain: z.enum(['yes', 'local', 'no'], 'yes, local or no').default('yes'),
  mqttCertificate: text.nullable().default(null),
  mqttKey: text.nullable().default(null),
  mqttTlsPort: port.default(8883),
  brokerUrl: z
    .string('an address such as mqtt://broker.local:1883')
    .regex(/^mqtts?:\/\/[^/\s]+$/, 'an address such as mqtt://broker.local:1883 (or mqtts://…)')
    .nullable()
    .default(null),
  brokerUser: text.nullable().default(null),
  brokerPassword: text.nullable().default(null),
  brokerCa: text.nullable().default(null),
  brokerClientId: z
    .string()
    .regex(/^[A-Za-z0-9-]{1,23}$/, '1 to 23 letters, digits or hyphens')
    .default('loamline-hub'),
  probesHost: z
    .string('a name or an address')
    .regex(/^[A-Za-z0-9._:-]+$/, 'a name or an address such as 192.168.1.20, without a port')
    .nullable()
    .default(null),
  probesPort: port.nullable().default(null),
  influxUrl: z
    .string('an address such as http://127.0.0.1:8086')
    .regex(
      /^https?:\/\/[^\s@?#]+$/,
      'an address such as http://127.0.0.1:8086, without user and password',
    )
    .nullable()
    .default(null),
  influxDatabase: text.default('loamline'),
  influxRetention: text.nullable().default(null),
  influxToken: text.nullable().default(null),
  influxUser: text.nullable().default(null),
  influxPassword: text.nullable().default(null),
  role: z.enum(['all', 'ingest', 'serve'], 'all, ingest or serve').default('all'),
  ingestGroup: z
    .string()
    .regex(/^[A-Za-z0-9_-]{1,64}$/, '1 to 64 letters, digits, hyphens or underscores')
    .default('loamline'),
  intakeDatabase: z
    .string()
    .regex(/^[A-Za-z0-9_-]{1,64}$/, '1 to 64 letters, digits, hyphens or underscores')
    .default('loamline_intake'),
  intakeKeepDays: whole(1, 365).default(7),
  zone: z
    .string()
    .refine(isZone, 'an IANA time zone such as Europe/Lisbon')
    .default(() => new Intl.DateTimeFormat().resolvedOptions().timeZone),
  maxStrangers: whole(0, 10_000).default(50),
  strangers: z.enum(['local', 'anyone', 'nobody'], 'local, anyone or nobody').default('local'),
  probeLimit: amount(
    z
      .number('a number from 0 to 1000')
      .min(0, 'a number from 0 to 1000')
      .max(1000, 'a number from 0 to 1000'),
  ).default(1),
  brokerFiles: text.nullable().default(null),
  brokerReaderPassword: text.nullable().default(null),
  logLevel: z
    .enum(['debug', 'info', 'warn', 'error'], 'debug, info, warn or error')
    .default('info'),
  demoEventAfterS: amount(
    z
      .number('seconds, 0 to 86400')
      .min(0, 'seconds, 0 to 86400')
      .max(86_400, 'seconds, 0 to 86400'),
  ).default(40),
})
export type Config = z.infer<typeof configSchema>

export const SETTINGS: readonly SettingInfo[] = [
  {
    key: 'dataDir',
    env: 'LOAMLINE_DATA_DIR',
    unit: 'folder',
    default: 'loamline-data',
    sentence: 'Where readings and records are kept; made when it is not there.',
  },
  {
    key: 'httpHost',
    env: 'LOAMLINE_HTTP_HOST',
    unit: 'address',
    default: '127.0.0.1',
    sentence:
      'Address the dashboard and the API listen on; 0.0.0.0 opens them to your whole network: then make an owner at once.',
  },
  {
    key: 'httpPort',
    env: 'LOAMLINE_HTTP_PORT',
    unit: 'port',
    default: '8090',
    sentence: 'Port of the dashboard and the API.',
  },
  {
    key: 'httpNames',
    env: 'LOAMLINE_HTTP_NAMES',
    unit: 'names',
    default: 'none',
    sentence:
      'Names by which browsers may call the hub besides localhost and its addresses, with commas between them.',
  },
  {
    key: 'httpCertificate',
    env: 'LOAMLINE_HTTP_CERTIFICATE',
    unit: 'file',
    default: 'none',
    sentence:
      'Certificate (PEM, with those above it) for HTTPS; with it the dashboard and the API are encrypted. Read again when it is renewed.',
  },
  {
    key: 'httpKey',
    env: 'LOAMLINE_HTTP_KEY',
    unit: 'file',
    default: 'none',
    sentence: 'Private key of that certificate (PEM, without a passphrase).',
  },
  {
    key: 'httpHstsDays',
    env: 'LOAMLINE_HTTP_HSTS_DAYS',
    unit: 'days',
    default: '0',
    sentence:
      'For how long browsers that came by HTTPS refuse plain HTTP at every port of that name; 0: they are not asked to.',
  },
  {
    key: 'proxyHeader',
    env: 'LOAMLINE_PROXY_HEADER',
    unit: 'word',
    default: 'x-forwarded-for',
    sentence:
      'In which header a proxy on this machine says for whom it asks: x-forwarded-for, forwarded, x-real-ip or none.',
  },
  {
    key: 'mqttHost',
    env: 'LOAMLINE_MQTT_HOST',
    unit: 'address',
    default: '127.0.0.1',
    sentence:
      'Address the built-in MQTT broker listens on; 0.0.0.0 lets probes on your network reach it.',
  },
  {
    key: 'mqttPort',
    env: 'LOAMLINE_MQTT_PORT',
    unit: 'port',
    default: '1883',
    sentence: 'Port of the built-in MQTT broker, unencrypted.',
  },
  {
    key: 'mqttPlain',
    env: 'LOAMLINE_MQTT_PLAIN',
    unit: 'word',
    default: 'yes',
    sentence:
      'Whether the built-in broker takes unencrypted connections: yes, local (from this machine alone) or no. Of a broker that has its certificate from the hub: whether new probes are told of its port for them.',
  },
  {
    key: 'mqttCertificate',
    env: 'LOAMLINE_MQTT_CERTIFICATE',
    unit: 'file',
    default: 'none',
    sentence:
      'Certificate (PEM, with those above it) for MQTT over TLS at the built-in broker; with it the port below is open. With LOAMLINE_BROKER_FILES it is laid there, with its key, for a mosquitto of your own. Read again when it is renewed.',
  },
  {
    key: 'mqttKey',
    env: 'LOAMLINE_MQTT_KEY',
    unit: 'file',
    default: 'none',
    sentence: 'Private key of that certificate (PEM, without a passphrase).',
  },
  {
    key: 'mqttTlsPort',
    env: 'LOAMLINE_MQTT_TLS_PORT',
    unit: 'port',
    default: '8883',
    sentence:
      'Port for encrypted connections, of the built-in MQTT broker or of the one that has its certificate from the hub.',
  },
  {
    key: 'brokerUrl',
    env: 'LOAMLINE_BROKER_URL',
    unit: 'URL',
    default: 'none',
    sentence: 'An MQTT broker of your own to use instead of the built-in one.',
  },
  {
    key: 'brokerUser',
    env: 'LOAMLINE_BROKER_USER',
    unit: 'text',
    default: 'none',
    sentence: "The hub's user name at your own broker.",
  },
  {
    key: 'brokerPassword',
    env: 'LOAMLINE_BROKER_PASSWORD',
    unit: 'text',
    default: 'none',
    sentence: "The hub's password at your own broker.",
  },
  {
    key: 'brokerCa',
    env: 'LOAMLINE_BROKER_CA',
    unit: 'file',
    default: 'none',
    sentence:
      'Certificates (PEM) of who vouches for your own broker at mqtts://; none: those this machine trusts.',
  },
  {
    key: 'brokerClientId',
    env: 'LOAMLINE_BROKER_CLIENT_ID',
    unit: 'text',
    default: 'loamline-hub',
    sentence:
      "The hub's client id at your own broker; it names the session in which messages wait while the hub is away.",
  },
  {
    key: 'probesHost',
    env: 'LOAMLINE_PROBES_HOST',
    unit: 'address',
    default: 'none',
    sentence:
      'Name or address by which probes find the broker, as the page of a new probe tells it; none: by the name of that broker when it has a dot, else by the one the page was called by.',
  },
  {
    key: 'probesPort',
    env: 'LOAMLINE_PROBES_PORT',
    unit: 'port',
    default: 'none',
    sentence:
      'Port at which probes find the broker, where another one is passed on to it (of one that has its certificate from the hub, the port without encryption); none: its own.',
  },
  {
    key: 'influxUrl',
    env: 'LOAMLINE_INFLUX_URL',
    unit: 'URL',
    default: 'none',
    sentence:
      'An InfluxDB (1.x, 2.x or 3.x) that keeps every reading; the hub sends them there and reads them from there.',
  },
  {
    key: 'influxDatabase',
    env: 'LOAMLINE_INFLUX_DATABASE',
    unit: 'text',
    default: 'loamline',
    sentence:
      'Database in InfluxDB, in 2.x a bucket of that name; nothing in it may expire, and one hub alone writes to it.',
  },
  {
    key: 'influxRetention',
    env: 'LOAMLINE_INFLUX_RETENTION',
    unit: 'text',
    default: 'none',
    sentence: "Retention policy in which the readings stand; none: the database's own.",
  },
  {
    key: 'influxToken',
    env: 'LOAMLINE_INFLUX_TOKEN',
    unit: 'text',
    default: 'none',
    sentence: "The hub's token at InfluxDB.",
  },
  {
    key: 'influxUser',
    env: 'LOAMLINE_INFLUX_USER',
    unit: 'text',
    default: 'none',
    sentence: "The hub's user name at InfluxDB, when it has no token.",
  },
  {
    key: 'influxPassword',
    env: 'LOAMLINE_INFLUX_PASSWORD',
    unit: 'text',
    default: 'none',
    sentence: "The hub's password at InfluxDB.",
  },
  {
    key: 'role',
    env: 'LOAMLINE_ROLE',
    unit: 'word',
    default: 'all',
    sentence:
      'What this process does: all, ingest (it only takes readings in, one of several) or serve (all the rest).',
  },
  {
    key: 'ingestGroup',
    env: 'LOAMLINE_INGEST_GROUP',
    unit: 'text',
    default: 'loamline',
    sentence: 'Ingest processes of the same group share the readings of all probes among them.',
  },
  {
    key: 'intakeDatabase',
    env: 'LOAMLINE_INTAKE_DATABASE',
    unit: 'text',
    default: 'loamline_intake',
    sentence:
      'Database in InfluxDB through which ingest processes hand readings to the serving hub; nothing in it may expire.',
  },
  {
    key: 'intakeKeepDays',
    env: 'LOAMLINE_INTAKE_KEEP_DAYS',
    unit: 'days',
    default: '7',
    sentence: 'How long readings stay in that database after the serving hub has taken them.',
  },
  {
    key: 'zone',
    env: 'LOAMLINE_ZONE',
    unit: 'time zone',
    default: "the machine's",
    sentence: 'Time zone a new garden starts with; later it is changed on the settings page.',
  },
  {
    key: 'maxStrangers',
    env: 'LOAMLINE_MAX_STRANGERS',
    unit: 'probes',
    default: '50',
    sentence:
      'How many unknown probes may wait to be taken in; messages of further ones go to quarantine.',
  },
  {
    key: 'strangers',
    env: 'LOAMLINE_STRANGERS',
    unit: 'word',
    default: 'local',
    sentence:
      "Who may use the built-in broker without a probe's password: local (this machine), anyone or nobody.",
  },
  {
    key: 'probeLimit',
    env: 'LOAMLINE_PROBE_LIMIT',
    unit: 'times',
    default: '1',
    sentence:
      'How much each probe may send: times one message a second with 60 at once; 0 lets them send as they like.',
  },
  {
    key: 'brokerFiles',
    env: 'LOAMLINE_BROKER_FILES',
    unit: 'folder',
    default: 'none',
    sentence:
      'Where the hub keeps the password file, the access list and, with LOAMLINE_MQTT_CERTIFICATE, the certificate for a mosquitto of your own up to date.',
  },
  {
    key: 'brokerReaderPassword',
    env: 'LOAMLINE_BROKER_READER_PASSWORD',
    unit: 'text',
    default: 'none',
    sentence:
      'Password of hub-reader, an account in those files with which other programs read alarms and messages (lm1/hub/#) and nothing else; none: there is no such account.',
  },
  {
    key: 'logLevel',
    env: 'LOAMLINE_LOG_LEVEL',
    unit: 'word',
    default: 'info',
    sentence: 'How much is written to the log: debug, info, warn or error.',
  },
  {
    key: 'demoEventAfterS',
    env: 'LOAMLINE_DEMO_EVENT_AFTER_S',
    unit: 's',
    default: '40',
    sentence: 'Demo only: how long after the live probes have started one bed shifts.',
  },
]

/** Environment variable that names the config file. */
export const CONFIG_FILE_ENV = 'LOAMLINE_CONFIG'
