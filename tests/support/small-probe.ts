import { connect, type Socket } from 'node:net'
import { generate, parser, type Packet } from 'mqtt-packet'

/** What a small probe can be made to do wrong. */
export type Mistake =
  | 'retains readings'
  | 'leaves no will'
  | 'leaves the will of another boot'
  | 'sends a reading before it says on'
  | 'writes nan'
  | 'skips numbers'
  | 'counts down'
  | 'lets its seconds fall'
  | 'uses a number twice'
  | 'fills batches beyond the limit'
  | 'sends late readings as fresh ones'
  | 'believes every acknowledgement'
  | 'listens to other probes'
  | 'sends batches newest first'
  | 'connects again at once'
  | 'takes any settings'
  | 'repeats commands'
  | 'has another client id'
  | 'writes at another topic'
  | 'tells its password'
  | 'sends a channel it does not list'
  | 'sends -127 for a failed thermometer'
  | 'dies of a large packet'
  | 'dies of broken text'
  | 'does not notice a dead link'
  | 'sends pH alone'
  | 'forgets what it measured offline'
  | 'sends again without pause'
  | 'names an unknown unit'
  | 'sends no birth after hello'
  | 'has a clock that was never set'

export interface SmallProbeOptions {
  readonly port: number
  readonly id: string
  /** @default null: it does everything right */
  readonly mistake?: Mistake | null
  readonly intervalMs?: number
}

interface Row {
  readonly n: number
  readonly u: number
  readonly phmv: number
  readonly m1: number
}

const BOOT = 5
const PASSWORD = 'k2vq8zr4tw6xn3mp'
const KEEP_ALIVE_S = 1
const RESEND_MS = 300
const BETWEEN_MS = 300
const FIRST_PAUSE_MS = 22
const LONGEST_PAUSE_MS = 1400
const ROWS = 5
/** Every so many readings something goes wrong. */
const NOW_AND_THEN = 7

/**
 * A probe in two hundred lines: core and buffered profile over a bare socket, by the letter of the firmware
 * specification, but for the one mistake it is told to make.
 */
export function startSmallProbe(options: SmallProbeOptions): { stop(): void } {
  const { port, id, mistake = null, intervalMs = 50 } = options
  const makes = (one: Mistake): boolean => mistake === one
  const buffered = !makes('counts down') && !makes('lets its seconds fall')
  const claimsBuffer = buffered && !makes('sends late readings as fresh ones')
  const startedAt = performance.now()
  let ahead = makes('lets its seconds fall') ? 50 : 0
  let n = makes('counts down') ? 100_000 : 0
  let held: Row[] = []
  /** Rows below this number went out before the connection that is open. */
  let freshFrom = 0
  let socket: Socket | null = null
  let online = false
  let stopped = false
  let wasOnline = false
  let dead = false
  let pauses = 0
  let heardAt = 0
  let messageId = 1
  let batch: { last: number; at: number; pause: number } | null = null
  let nextBatchAt = 0
  let settings = 0
  const done = new Set<number>()
  const timers = new Set<NodeJS.Timeout>()

  const later = (ms: number, work: () => void): void => {
    const timer = setTimeout(() => {
      timers.delete(timer)
      if (!stopped) work()
    }, ms)
    timers.add(timer)
  }
  const uptime = (): number => Math.floor((performance.now() - startedAt) / 1000) + ahead
  const write = (packet: Packet): void => void socket?.write(generate(packet))
  const publish = (leaf: string, payload: string, retain = false): void =>
    write({
      cmd: 'publish',
      topic: leaf.startsWith('lm1/') ? leaf : `lm1/${id}/up/${leaf}`,
      payload,
      qos: 1,
      messageId: (messageId = (messageId % 65_535) + 1),
      dup: false,
      retain,
    })

  const describe = (): void => {
    const names = makes('sends pH alone') ? 'ph,m1' : 'phmv,m1'
    publish(
      'birth',
      JSON.stringify({
        p: 1,
        fw: 'small 1',
        b: BOOT,
        u: uptime(),
        iv: 10,
        ch: makes('sends -127 for a failed thermometer') ? `${names},st` : names,
        ...(settings > 0 ? { cv: settings } : {}),
        ...(claimsBuffer ? { buf: 500, x: 'C+B' } : { x: 'C' }),
      }),
      true,
    )
    if (makes('sends pH alone')) publish('ch/ph', '{"q":"ph","u":"pH"}', true)
    else publish('ch/phmv', '{"q":"ph.emf","u":"mV","lsb":0.1}', true)
    const unit = makes('names an unknown unit') ? 'bits' : 'count'
    publish('ch/m1', `{"q":"moist.raw","u":"${unit}","lo":0,"hi":4095}`, true)
    if (makes('sends -127 for a failed thermometer'))
      publish('ch/st', '{"q":"temp.soil","u":"Cel"}', true)
  }
  const sendLive = (row: Row): void => {
    const odd = row.n % NOW_AND_THEN === NOW_AND_THEN - 1
    const electrode = makes('sends pH alone') ? '"ph":6.5' : `"phmv":${row.phmv}`
    const spread = makes('sends pH alone') ? '' : ',"s":{"phmv":0.3}'
    const value = makes('writes nan') && odd ? '"phmv":nan' : electrode
    const more =
      makes('sends -127 for a failed thermometer') && odd
        ? ',"st":-127'
        : makes('sends a channel it does not list')
          ? ',"at":12.5'
          : ''
    const t = makes('has a clock that was never set') ? ',"t":86400' : ''
    const text = `{"b":${BOOT},"n":${row.n},"u":${row.u}${t},"v":{${value},"m1":${row.m1}${more}}${spread}}`
    publish('r', text, makes('retains readings'))
    if (makes('uses a number twice') && odd) publish('r', text.replace(/"m1":\d+/, '"m1":17'))
    if (makes('writes at another topic') && odd) publish('lm1/another1/up/r', text)
    if (makes('tells its password') && odd) publish('res', `{"id":1,"ok":false,"e":"${PASSWORD}"}`)
  }
  const measure = (): void => {
    if (dead || !wasOnline) return
    const odd = n % NOW_AND_THEN === NOW_AND_THEN - 1
    const fall = makes('lets its seconds fall') && odd ? 5 : 0
    const row: Row = {
      n,
      u: uptime() - fall,
      phmv: Math.round(100 + 10 * Math.sin(n)) / 10,
      m1: 1800 + (n % 50),
    }
    n += makes('counts down') ? -1 : makes('skips numbers') && odd ? 2 : 1
    if (buffered && (online || !makes('forgets what it measured offline'))) held.push(row)
    if (online) sendLive(row)
  }
  const sendBatch = (): void => {
    const late = held.filter((row) => row.n < freshFrom)
    const rows = late.slice(0, makes('fills batches beyond the limit') ? 20 : ROWS)
    if (rows.length === 0) return
    const told = makes('sends batches newest first') ? rows.toReversed() : rows
    const r = told.map((row) =>
      makes('sends pH alone') ? [row.n, row.u, 6.5, row.m1] : [row.n, row.u, row.phmv, row.m1],
    )
    const c = makes('sends pH alone') ? ['ph', 'm1'] : ['phmv', 'm1']
    publish('b', JSON.stringify({ b: BOOT, u: uptime(), c, r }))
    const pause =
      batch === null ? RESEND_MS : batch.pause * (makes('sends again without pause') ? 1 : 2)
    batch = { last: rows.at(-1)!.n, at: performance.now(), pause }
  }
  const resend = (): void => {
    if (!online || !buffered || dead) return
    const now = performance.now()
    if (batch === null ? now >= nextBatchAt : now - batch.at >= batch.pause) sendBatch()
  }
  const acknowledged = (upTo: number): void => {
    held = held.filter((row) => row.n > upTo)
    if (batch === null || upTo < batch.last) return
    nextBatchAt = batch.at + BETWEEN_MS
    batch = null
  }
  const hear = (topic: string, text: string): void => {
    if (dead) return
    const own = topic.startsWith(`lm1/${id}/dn/`)
    if (!own && !makes('listens to other probes')) return
    if (text.length > 1000 && makes('dies of a large packet')) dead = true
    let body: Record<string, unknown>
    try {
      body = JSON.parse(text) as Record<string, unknown>
    } catch {
      if (text.length < 1000 && makes('dies of broken text')) dead = true
      return
    }
    if (topic.endsWith('/ack')) {
      if (body['b'] === BOOT || makes('believes every acknowledgement'))
        acknowledged(Number(body['n']))
    } else if (topic.endsWith('/cfg')) {
      const fits =
        within(body['iv'], 60, 86_400) && within(body['ns'], 1, 256) && within(body['st'], 0, 600)
      const ok = fits || makes('takes any settings')
      if (ok) settings = Number(body['cv'])
      publish('res', JSON.stringify({ id: body['cv'], ok }))
    } else if (topic.endsWith('/cmd')) {
      const command = Number(body['id'])
      const first = !done.has(command) || makes('repeats commands')
      done.add(command)
      publish('res', JSON.stringify({ id: command, ok: true }))
      if (first && !makes('sends no birth after hello')) describe()
    }
  }

  const comeUp = (): void => {
    pauses = 0
    batch = null
    if (makes('sends late readings as fresh ones') && n > 0) ahead += 60
    write({
      cmd: 'subscribe',
      messageId: 1,
      subscriptions: [{ topic: `lm1/${id}/dn/#`, qos: 0 }],
    })
    if (makes('sends a reading before it says on') && held.length > 0) sendLive(held.at(-1)!)
    publish('state', `{"s":"on","b":${BOOT},"u":${uptime()}}`, true)
    if (!makes('sends no birth after hello') || n === 0) describe()
    if (makes('sends late readings as fresh ones')) {
      for (const row of held) if (row.n >= freshFrom) sendLive(row)
      held = []
    }
    freshFrom = n
    nextBatchAt = 0
    online = true
    wasOnline = true
    resend()
  }
  const open = (): void => {
    const opened = connect(port, '127.0.0.1')
    socket = opened
    opened.setNoDelay(true)
    const reader = parser({ protocolVersion: 4 })
    reader.on('packet', (packet) => {
      heardAt = performance.now()
      if (packet.cmd === 'connack') comeUp()
      if (packet.cmd === 'publish') hear(packet.topic, packet.payload.toString())
    })
    opened.on('connect', () => {
      heardAt = performance.now()
      const boot = makes('leaves the will of another boot') ? BOOT - 1 : BOOT
      write({
        cmd: 'connect',
        clientId: makes('has another client id') ? `${id}x` : id,
        username: id,
        ...(makes('tells its password') ? { password: Buffer.from(PASSWORD) } : {}),
        keepalive: KEEP_ALIVE_S,
        clean: true,
        protocolVersion: 4,
        protocolId: 'MQTT',
        ...(makes('leaves no will')
          ? {}
          : {
              will: {
                topic: `lm1/${id}/up/state`,
                payload: Buffer.from(`{"s":"off","b":${boot}}`),
                qos: 1 as const,
                retain: true,
              },
            }),
      })
    })
    opened.on('data', (bytes: Buffer) => reader.parse(bytes))
    opened.on('error', () => {})
    opened.on('close', () => {
      if (socket !== opened) return
      online = false
      const ms = Math.min(FIRST_PAUSE_MS * 2 ** pauses, LONGEST_PAUSE_MS)
      pauses++
      // Spread without chance: the same in every run.
      const share = 0.8 + 0.4 * ((pauses * 0.618) % 1)
      if (!stopped && !dead) later(makes('connects again at once') ? 5 : ms * share, open)
    })
  }
  const ping = setInterval(() => {
    if (!online || dead) return
    write({ cmd: 'pingreq' })
    const silentMs = performance.now() - heardAt
    if (silentMs > 1500 * KEEP_ALIVE_S && !makes('does not notice a dead link')) socket?.destroy()
  }, 500 * KEEP_ALIVE_S)
  const measuring = setInterval(measure, intervalMs)
  const resending = setInterval(resend, 20)
  open()

  return {
    stop() {
      stopped = true
      clearInterval(ping)
      clearInterval(measuring)
      clearInterval(resending)
      for (const timer of timers) clearTimeout(timer)
      socket?.destroy()
    },
  }
}

const within = (value: unknown, least: number, most: number): boolean =>
  value === undefined ||
  (Number.isInteger(value) && Number(value) >= least && Number(value) <= most)
