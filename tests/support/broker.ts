import { spawn } from 'node:child_process'
import type { ChildProcess } from 'node:child_process'
import { existsSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { connect } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { freePort } from './ports.ts'
import { until } from './until.ts'

const MOSQUITTO = [
  '/usr/sbin/mosquitto',
  '/usr/local/sbin/mosquitto',
  '/opt/homebrew/sbin/mosquitto',
]

/** A real mosquitto of one test, on 127.0.0.1. */
export interface TestBroker {
  readonly url: string
  readonly port: number
  /** Stops it, keeping what it stored; resolves when it has gone. */
  stop(signal?: 'SIGTERM' | 'SIGKILL'): Promise<void>
  start(): Promise<void>
  /** Sends SIGHUP and waits until it has read its files again. */
  reload(): Promise<void>
  /** What it wrote to its log. */
  log(): string
  /** Ends it and removes its files. */
  close(): Promise<void>
}

export interface TestBrokerOptions {
  /** Further lines of mosquitto.conf. */
  readonly config?: readonly string[]
  /**
   * Lines of an access list; with it, user names are client ids.
   * @default none: everybody may do everything
   */
  readonly acl?: readonly string[]
}

/**
 * Starts mosquitto with the settings the README recommends. It ends when this process ends.
 * A missing mosquitto is an error: a test that silently does nothing proves nothing.
 */
export async function startBroker(options: TestBrokerOptions = {}): Promise<TestBroker> {
  const binary = MOSQUITTO.find((path) => existsSync(path))
  if (binary === undefined) {
    throw new Error(
      `mosquitto is needed for this test: expected it at ${MOSQUITTO.join(' or ')}. ` +
        'On Debian: apt-get install mosquitto mosquitto-clients',
    )
  }
  const folder = mkdtempSync(join(tmpdir(), 'loamline-broker-'))
  const port = await freePort()
  const store = join(folder, 'store')
  mkdirSync(store)
  const config = [
    `listener ${port} 127.0.0.1`,
    ...(options.config?.includes('allow_anonymous false') === true ? [] : ['allow_anonymous true']),
    ...(process.getuid?.() === 0 ? ['user root'] : []),
    'log_dest stderr',
    'persistence true',
    `persistence_location ${store}/`,
    'autosave_interval 5',
    'max_queued_messages 0',
    'max_inflight_messages 1000',
    'queue_qos0_messages true',
    'max_packet_size 4096',
    ...(options.config ?? []),
  ]
  if (options.acl !== undefined) {
    writeFileSync(join(folder, 'acl'), options.acl.join('\n') + '\n', { mode: 0o600 })
    config.push(`acl_file ${join(folder, 'acl')}`)
  }
  const file = join(folder, 'mosquitto.conf')
  writeFileSync(file, config.join('\n') + '\n')
  let child: ChildProcess | undefined
  let said = ''

  async function start(): Promise<void> {
    const command = existsSync('/usr/bin/setpriv')
      ? ['/usr/bin/setpriv', '--pdeathsig', 'KILL', binary!, '-c', file]
      : [binary!, '-c', file]
    const started = spawn(command[0]!, command.slice(1), { stdio: ['ignore', 'ignore', 'pipe'] })
    child = started
    started.stderr.on('data', (chunk: Buffer) => (said += chunk.toString()))
    await until('mosquitto listens', () => {
      if (started.exitCode !== null) throw new Error(`mosquitto ended: ${said}`)
      return listens(port)
    })
  }

  async function stop(signal: 'SIGTERM' | 'SIGKILL' = 'SIGTERM'): Promise<void> {
    const running = child
    child = undefined
    if (running === undefined || running.exitCode !== null) return
    const gone = new Promise((resolve) => running.once('exit', resolve))
    running.kill(signal)
    await gone
  }

  async function reload(): Promise<void> {
    const before = said.length
    if (child === undefined) throw new Error('expected a mosquitto that runs')
    child.kill('SIGHUP')
    await until('mosquitto reads its files', () => said.slice(before).includes('Reloading config'))
  }

  await start()
  return {
    url: `mqtt://127.0.0.1:${port}`,
    port,
    start,
    stop,
    reload,
    log: () => said,
    async close() {
      await stop('SIGKILL')
      rmSync(folder, { recursive: true, force: true })
    },
  }
}

function listens(port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const socket = connect(port, '127.0.0.1')
    socket.once('connect', () => {
      socket.destroy()
      resolve(true)
    })
    socket.once('error', () => resolve(false))
  })
}
