import { connect } from 'node:net'
import { connect as connectTls } from 'node:tls'
import type { ServiceKind } from './service-kind.ts'

export interface MosquittoOptions {
  /**
   * Further lines of mosquitto.conf, right after that of the listener; `{files}` stands for the folder that
   * `files` are put in. Without a word about it everybody is let in.
   */
  readonly config?: string
  /** Files by name. @default none */
  readonly files?: Readonly<Record<string, string>>
}

/** A connection of MQTT 3.1.1 by the client `ready`, clean, keep-alive 5 s. */
const CONNECT = Buffer.from([
  16, 17, 0, 4, 77, 81, 84, 84, 4, 2, 0, 5, 0, 5, 114, 101, 97, 100, 121,
])
const CONNACK = 0x20
const ANSWER_MS = 500

/** mosquitto with the settings the README recommends. */
export function mosquittoKind({ config = '', files = {} }: MosquittoOptions): ServiceKind {
  const encrypted = says(config, 'certfile')
  return {
    name: 'mosquitto',
    image: process.env['BROKER_IMAGE'] ?? 'eclipse-mosquitto:2',
    innerPort: 1883,
    program: 'mosquitto',
    setUp({ folder, address, port, asRoot }) {
      const defaults = [
        'allow_anonymous true',
        // A change of user would clear the signal that ends it with the tests.
        ...(asRoot ? ['user root'] : []),
        // Its standard output would hold lines back until it ends.
        'log_dest stderr',
        'persistence true',
        'autosave_interval 5',
        'max_queued_messages 0',
        'max_inflight_messages 1000',
        'queue_qos0_messages true',
        'max_packet_size 4096',
      ]
      const lines = [
        `listener ${port} ${address}`,
        config.replaceAll('{files}', `${folder}/files`),
        `persistence_location ${folder}/data/`,
        ...defaults.filter((line) => !says(config, line.split(' ')[0]!)),
        '',
      ]
      return {
        args: ['-c', `${folder}/config/mosquitto.conf`],
        env: {},
        files: {
          [`${folder}/config/mosquitto.conf`]: lines.join('\n'),
          ...Object.fromEntries(
            Object.entries(files).map(([name, text]) => [`${folder}/files/${name}`, text]),
          ),
        },
      }
    },
    answers: encrypted ? shakesHands : acknowledges,
  }
}

const says = (config: string, key: string): boolean =>
  new RegExp(`^\\s*${key}\\s`, 'm').test(config)

/** Whether it answers a CONNECT, with whatever verdict. */
function acknowledges(port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const socket = connect(port, '127.0.0.1')
    const end = (verdict: boolean): void => {
      socket.destroy()
      resolve(verdict)
    }
    socket.setTimeout(ANSWER_MS, () => end(false))
    socket.on('error', () => end(false))
    socket.on('close', () => resolve(false))
    socket.on('connect', () => socket.write(CONNECT))
    socket.on('data', (piece) => end(piece[0] === CONNACK))
  })
}

/** Whether it speaks TLS; whom it then lets in is for the test to see. */
function shakesHands(port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const socket = connectTls({ port, host: '127.0.0.1', rejectUnauthorized: false })
    const end = (verdict: boolean): void => {
      socket.destroy()
      resolve(verdict)
    }
    socket.setTimeout(ANSWER_MS, () => end(false))
    socket.on('error', () => end(false))
    socket.on('close', () => resolve(false))
    socket.on('secureConnect', () => end(true))
  })
}
