import {
  copyFileSync,
  existsSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs'
import { join } from 'node:path'
import { connect as connectTls } from 'node:tls'
import mqtt from 'mqtt'
import { pino } from 'pino'
import { afterAll, beforeAll, expect, onTestFinished, test } from 'vitest'
import { wireTls } from '#hub/assembly/wire-tls.ts'
import { watchCertificate, type WatchedCertificate } from '#hub/certificates/watch-certificate.ts'
import { CERTIFICATE_FILE, keepBrokerCertificate } from '#hub/ingest/broker-certificate.ts'
import { configSchema, type Config } from '#hub/config/settings.ts'
import { DAY } from '#hub/model/clock.ts'
import { startBroker } from '#tests/support/broker.ts'
import { makeAsReadme, type TestAuthority } from '#tests/support/certificates.ts'
import { freePort } from '#tests/support/ports.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { until } from '#tests/support/until.ts'

let dir: ReturnType<typeof tempDir>
let authority: TestAuthority
let ca: Buffer
beforeAll(() => {
  dir = tempDir()
  authority = makeAsReadme(dir.path)
  ca = readFileSync(authority.ca)
})
afterAll(() => dir[Symbol.dispose]())

interface Laid {
  /** Certificate and key as their owner renews them. */
  readonly cert: string
  readonly key: string
  readonly watched: WatchedCertificate
  /** Folder of the broker's files. */
  readonly folder: string
  readonly file: string
  readonly said: readonly string[]
}

/** A certificate of a folder, kept in another one for a broker. */
async function lay(name: string, folder?: string): Promise<Laid> {
  const own = tempDir()
  const [cert, key] = [join(own.path, 'hub.pem'), join(own.path, 'hub.key')]
  const first = await authority.issue(name)
  copyFileSync(first.cert, cert)
  copyFileSync(first.key, key)
  const said: string[] = []
  const watched = watchCertificate({
    files: {
      certificate: { file: cert, setting: 'LOAMLINE_MQTT_CERTIFICATE' },
      key: { file: key, setting: 'LOAMLINE_MQTT_KEY' },
    },
    clock: Date.now,
    log: { warn: (m) => said.push(m), info: (m) => said.push(m) },
    // Only when it is asked to.
    lookEveryMs: DAY,
  })
  const place = folder ?? join(own.path, 'files')
  const kept = keepBrokerCertificate({
    folder: place,
    certificate: watched,
    onTrouble: (message) => said.push(message),
    againMs: 20,
  })
  onTestFinished(() => {
    kept.stop()
    watched.stop()
    own[Symbol.dispose]()
  })
  return { cert, key, watched, folder: place, file: join(place, CERTIFICATE_FILE), said }
}

const holds = (file: string, cert: string): boolean =>
  existsSync(file) && readFileSync(file, 'utf8').startsWith(readFileSync(cert, 'utf8').trimEnd())

test('a mosquitto shows what the hub laid for it, and a renewed one while connections go on', async () => {
  const laid = await lay('first')
  await until('it is laid', () => holds(laid.file, laid.cert))
  expect(statSync(laid.file).mode & 0o777).toBe(0o600)
  const port = await freePort()
  const broker = await startBroker({
    config: [`listener ${port} 127.0.0.1`, `certfile ${laid.file}`, `keyfile ${laid.file}`],
  })
  onTestFinished(() => broker.close())
  const shown = (): Promise<string> =>
    new Promise((resolve, reject) => {
      const socket = connectTls({ host: '127.0.0.1', port, ca }, () => {
        resolve(String(socket.getPeerCertificate().subject.CN))
        socket.destroy()
      })
      socket.on('error', reject)
    })
  const url = `mqtts://127.0.0.1:${port}`
  const standing = await mqtt.connectAsync(url, { clientId: 'fern1', ca, reconnectPeriod: 0 })
  onTestFinished(() => standing.endAsync(true))
  const lost = new Promise<void>((resolve) => standing.once('close', () => resolve()))
  expect(await shown()).toBe('first')

  // Half a pair does not reach the broker: it would take nobody in any more.
  const second = await authority.issue('second')
  copyFileSync(second.cert, laid.cert)
  laid.watched.look()
  await broker.reload()
  expect(await shown()).toBe('first')
  copyFileSync(second.key, laid.key)
  laid.watched.look()
  await until('it is laid', () => holds(laid.file, second.cert))
  await broker.reload()
  expect(await shown()).toBe('second')
  expect(
    await Promise.race([lost.then(() => 'lost'), standing.publishAsync('a', 'b', { qos: 1 })]),
  ).not.toBe('lost')
  await expect(mqtt.connectAsync(url, { clientId: 'fern2', reconnectPeriod: 0 })).rejects.toThrow(
    /self-signed|unable/,
  )
})

test('what cannot be laid is said, tried again, and then is the newest', async () => {
  using place = tempDir()
  // A file where the folder should be: nobody can write there, root neither.
  const folder = join(place.path, 'files')
  writeFileSync(folder, '')
  const laid = await lay('early', folder)
  await until('it is told', () => laid.said.find((line) => line.includes('cannot be written')))
  const late = await authority.issue('late')
  copyFileSync(late.key, laid.key)
  copyFileSync(late.cert, laid.cert)
  laid.watched.look()
  rmSync(folder)
  await until('it is laid', () => holds(laid.file, late.cert))
  expect(readFileSync(laid.file, 'utf8')).toContain(readFileSync(late.key, 'utf8').trimEnd())
  const secret = readFileSync(late.key, 'utf8').split('\n')[1]!
  expect(laid.said.join('\n')).not.toContain(secret)
})

test('a hub at a broker of its files lays the certificate beside them; at any other it lays none', async () => {
  using place = tempDir()
  const { cert, key } = await authority.issue('wired')
  const brokerFiles = join(place.path, 'files')
  const open = (more: Partial<Config>): void => {
    const tls = wireTls(configSchema.parse({ mqttCertificate: cert, mqttKey: key, ...more }), {
      clock: Date.now,
      log: pino({ level: 'silent' }),
    })
    onTestFinished(() => tls.stop())
  }
  // The built-in broker has it anyway; one without files of the hub is nobody's to write to.
  open({ brokerFiles: join(place.path, 'other') })
  open({ brokerUrl: 'mqtt://127.0.0.1:1' })
  open({ brokerUrl: 'mqtt://127.0.0.1:1', brokerFiles })
  await until('it is laid', () => existsSync(join(brokerFiles, CERTIFICATE_FILE)))
  expect(readdirSync(place.path)).toEqual(['files'])
  expect(readdirSync(brokerFiles)).toEqual([CERTIFICATE_FILE])
})
