import type { Socket } from 'node:net'

/**
 * Sends PUBACKs over a socket: those of one commit leave in one write, in the order in which they are asked for.
 * PUBACK with two bytes is valid in MQTT 3.1.1 (3.4) and, as success without properties, in MQTT 5 (3.4.2.1).
 */
export function createPubackWriter(socket: Socket): (messageId: number) => void {
  let waiting: number[] = []

  function write(): void {
    const ids = waiting
    waiting = []
    if (socket.destroyed) return
    const packets = Buffer.allocUnsafe(ids.length * 4)
    for (let i = 0; i < ids.length; i++) {
      packets.writeUInt16BE(0x4002, i * 4)
      packets.writeUInt16BE(ids[i]!, i * 4 + 2)
    }
    socket.write(packets)
  }

  return (messageId) => {
    if (waiting.length === 0) queueMicrotask(write)
    waiting.push(messageId)
  }
}
