import { connect } from 'node:net'
import { connect as connectTls } from 'node:tls'
import type { ServiceKind } from './service-kind.ts'

export interface MosquittoOptions {
  /**
   * Further lines of mosquitto.conf, after those of the listener; `{files}` stands for the folder that
   * `files` are put in. Without a line of its own about it everybody is let in.
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
  const encrypted = /^\s*(certfile|psk_file|psk_hint)\s/m.test(config)
  return {
    name: 'mosquitto',
    image: process.env['BROKER_IMAGE'] ?? 'eclipse-mosquitto:2',
    innerPort: 1883,
    program: 'mosquitto',
    setUp({ folder, address, port, asRoot }) {
      const lines = [
        `listener ${port} ${address}`,
        ...(/^\s*allow_anonymous\s/m.test(config) ? [] : ['allow_anonymous true']),
        config.replaceAll('{files}', `${folder}/files`),
        // A change of user would clear the signal that ends it with the tests.
        ...(asRoot && !/^\s*user\s/m.test(config) ? ['user root'] : []),
        // Its standard output would hold lines back until it ends.
        'log_dest stderr',
        'persistence true',
        `persistence_location ${folder}/data/`,
        'autosave_interval 5',
        'max_queued_messages 0',
        'max_inflight_messages 1000',
        'queue_qos0_messages true',
        'max_packet_size 4096',
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
