import type { Server, Socket } from 'node:net'
import { isLoopback } from '../accounts/places.ts'
import { networkOf } from '../model/address.ts'

/** Connections at once, in all. */
const MOST_CONNECTIONS = 2000
/** From one address, or one IPv6 network, behind which may be a whole house; a browser opens six and a stream. */
const MOST_FROM_ONE = 500

/** Hangs up on whoever opens connections without end, so that there is room for the others. */
export function limitConnections(server: Server, mostFromOne: number = MOST_FROM_ONE): void {
  const open = new Map<string, number>()
  server.maxConnections = MOST_CONNECTIONS
  server.on('connection', (socket: Socket) => {
    const { remoteAddress = '', localAddress } = socket
    // A proxy on this machine speaks for many.
    if (isLoopback(remoteAddress) || remoteAddress === localAddress) return
    const from = networkOf(remoteAddress)
    const count = (open.get(from) ?? 0) + 1
    open.set(from, count)
    socket.once('close', () => {
      const left = (open.get(from) ?? 1) - 1
      if (left <= 0) open.delete(from)
      else open.set(from, left)
    })
    if (count > mostFromOne) socket.destroy()
  })
}
