import { createServer, connect } from 'node:net'
import type { AddressInfo, Socket } from 'node:net'
import { MqttClient } from 'mqtt'
import { afterEach, expect, test } from 'vitest'
import { until } from '#tests/support/until.ts'

/*
 * The hub's acknowledgement after commit leans on something mqtt.js does not document: a handleMessage
 * callback with an error sends no PUBACK, raises nothing, and lets the next PUBLISH through.
 * Packets here are written byte by byte (MQTT 3.1.1 and 5, 3.3 PUBLISH, 3.4 PUBACK).
 */

let closers: (() => void)[] = []
afterEach(() => {
  for (const close of closers) close()
  closers = []
})

function publishPacket(id: number, version: 4 | 5): Buffer {
  const topic = Buffer.from('a/b')
  const properties = version === 5 ? [0] : []
  const body = [0, topic.length, ...topic, id >> 8, id & 255, ...properties, 120]
  return Buffer.from([0x32, body.length, ...body])
}

for (const version of [4, 5] as const) {
  test(`MQTT ${version === 4 ? '3.1.1' : '5'}: cb(error) sends no PUBACK and the next PUBLISH is handled`, async () => {
    const received: Buffer[] = []
    let peer: Socket | undefined
    const server = createServer((socket) => {
      peer = socket
      socket.on('data', (chunk: Buffer) => received.push(chunk))
      socket.once('data', () => {
        socket.write(Buffer.from(version === 5 ? [0x20, 3, 0, 0, 0] : [0x20, 2, 0, 0]))
        for (const id of [1, 2, 3]) socket.write(publishPacket(id, version))
      })
    })
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
    const { port } = server.address() as AddressInfo
    const client = new MqttClient(() => connect(port, '127.0.0.1'), {
      protocolVersion: version,
      clientId: 'contract',
      reconnectPeriod: 0,
      keepalive: 0,
    })
    closers.push(() => {
      client.end(true)
      peer?.destroy()
      server.close()
    })
    const errors: unknown[] = []
    let closed = false
    client.on('error', (error) => errors.push(error))
    client.on('close', () => (closed = true))
    const handled: (number | undefined)[] = []
    client.handleMessage = (packet, done) => {
      handled.push(packet.messageId)
      done(packet.messageId === 3 ? undefined : new Error('acknowledged later'))
    }
    await until('three messages and one PUBACK', () => {
      const bytes = Buffer.concat(received)
      return handled.length === 3 && bytes.includes(Buffer.from([0x40, 2, 0, 3]))
    })
    const after = Buffer.concat(received)
    expect(handled).toEqual([1, 2, 3])
    expect(after.includes(Buffer.from([0x40, 2, 0, 1]))).toBe(false)
    expect(after.includes(Buffer.from([0x40, 2, 0, 2]))).toBe(false)
    expect(errors).toEqual([])
    expect(closed).toBe(false)
  })
}
