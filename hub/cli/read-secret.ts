import { createInterface } from 'node:readline'
import { Writable } from 'node:stream'
import { badOption } from './options.ts'

/** Shows what is asked, never what is typed. */
function quietOutput(): Writable {
  return new Writable({ write: (_chunk, _encoding, done) => done() })
}

/** One line from the terminal without showing it, or the next one of what is piped in. */
async function nextLine(ask: string, lines: AsyncIterator<string>): Promise<string> {
  if (process.stdin.isTTY) process.stderr.write(ask)
  const { value, done } = await lines.next()
  if (process.stdin.isTTY) process.stderr.write('\n')
  if (done === true) throw badOption('expected a password on a line of its own, got nothing')
  return value
}

/** A password: typed twice at a terminal, else the first line of what is piped in. */
export async function readSecret(ask: string): Promise<string> {
  const reader = createInterface({
    input: process.stdin,
    output: quietOutput(),
    terminal: process.stdin.isTTY,
  })
  reader.on('SIGINT', () => process.exit(130))
  const lines = reader[Symbol.asyncIterator]()
  try {
    const first = await nextLine(`${ask}: `, lines)
    if (!process.stdin.isTTY) return first
    if ((await nextLine('The same again: ', lines)) !== first) {
      throw badOption('the two passwords differ; nothing was changed')
    }
    return first
  } finally {
    reader.close()
  }
}
