import { createServer } from 'node:net'

const FIRST = 20_000
const LAST = 29_999

/** A TCP port of 127.0.0.1 that nobody listens on, from 20000 to 29999. */
export async function freePort(): Promise<number> {
  for (let attempt = 0; attempt < 200; attempt++) {
    const port = FIRST + Math.floor(Math.random() * (LAST - FIRST + 1))
    if (await isFree(port)) return port
  }
  throw new Error('no free port between 20000 and 29999 on 127.0.0.1')
}

function isFree(port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const server = createServer()
    server.once('error', () => resolve(false))
    server.listen(port, '127.0.0.1', () => server.close(() => resolve(true)))
  })
}
