import { connect, createServer, type Socket } from 'node:net'
import { once } from 'node:events'

export interface CuttingProxy extends AsyncDisposable {
  readonly port: number
  /** Connections it has cut so far. */
  readonly cuts: () => number
  /** From now on: bytes from the server after which a connection is cut, null never; asked once a connection. */
  cutAfter(next: () => number | null): void
  /** Refuses new connections and cuts what is open, or lets them through again. */
  setDown(down: boolean): void
  /** Keeps connections open, but lets nothing through any more: a cable pulled out. */
  setMute(mute: boolean): void
}

/** A TCP proxy on 127.0.0.1 that cuts connections in the middle of what the server sends. */
export async function cuttingProxy(target: number): Promise<CuttingProxy> {
  const open = new Set<Socket>()
  let next: () => number | null = () => null
  let cuts = 0
  let down = false
  let mute = false
  const server = createServer((client) => {
    if (down) {
      client.destroy()
      return
    }
    let left = next() ?? Infinity
    const upstream = connect(target, '127.0.0.1')
    open.add(client)
    const end = (): void => {
      open.delete(client)
      client.destroy()
      upstream.destroy()
    }
    for (const socket of [client, upstream]) socket.on('error', end).on('close', end)
    client.on('data', (piece) => {
      if (!mute) upstream.write(piece)
    })
    upstream.on('data', (piece: Buffer) => {
      if (mute) return
      if (piece.length < left) {
        left -= piece.length
        client.write(piece)
        return
      }
      cuts += 1
      client.write(piece.subarray(0, left), () => client.resetAndDestroy())
      upstream.destroy()
    })
  })
  server.listen(0, '127.0.0.1')
  await once(server, 'listening')
  const address = server.address()
  if (address === null || typeof address === 'string') throw new Error('expected a port')
  return {
    port: address.port,
    cuts: () => cuts,
    cutAfter: (how) => {
      next = how
    },
    setDown: (is) => {
      down = is
      if (is) for (const socket of open) socket.destroy()
    },
    setMute: (is) => {
      mute = is
      if (!is) for (const socket of open) socket.destroy()
    },
    async [Symbol.asyncDispose]() {
      for (const socket of open) socket.destroy()
      server.close()
      await once(server, 'close')
    },
  }
}
