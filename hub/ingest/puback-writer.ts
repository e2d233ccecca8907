import type { Socket } from 'node:net'

export interface PubackWriter {
  confirm(messageId: number): void
  /** Sends what was asked for so far, before somebody else writes to the socket. */
  flush(): void
}

/**
 * Sends PUBACKs over a socket: those of one commit leave in one write, in the order in which they are asked for.
 * PUBACK with two bytes is valid in MQTT 3.1.1 (3.4) and, as success without properties, in MQTT 5 (3.4.2.1).
 */
export function createPubackWriter(socket: Socket): PubackWriter {
  let waiting: number[] = []

  function flush(): void {
    if (waiting.length === 0) return
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

  return {
    confirm(messageId) {
      if (waiting.length === 0) queueMicrotask(flush)
      waiting.push(messageId)
    },
    flush,
  }
}
