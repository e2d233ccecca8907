import { spawn, type ChildProcess } from 'node:child_process'
import { once } from 'node:events'
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { findProgram } from './find-program.ts'
import type { Service } from './service.ts'
import type { ServiceKind } from './service-kind.ts'
import { whenReady } from './when-ready.ts'

const LOG_TAIL = 2000

/** Runs a service as a program of this machine, in a folder of its own. It ends when this process ends. */
export async function asProcess(kind: ServiceKind, port: number): Promise<Service> {
  const program = findProgram(kind.program)
  if (program === null) throw new Error(`${kind.program} is not installed`)
  const folder = mkdtempSync(join(tmpdir(), `loamline-${kind.name}-`))
  mkdirSync(join(folder, 'data'))
  const asRoot = process.getuid?.() === 0
  const { args, env, files } = kind.setUp({ folder, address: '127.0.0.1', port, asRoot })
  for (const [path, content] of Object.entries(files)) {
    mkdirSync(dirname(path), { recursive: true })
    writeFileSync(path, content, { mode: 0o600 })
  }
  // Where there is one, the kernel ends the program with the tests, however they end.
  const guard = findProgram('setpriv')
  const command = guard === null ? [program] : [guard, '--pdeathsig', 'KILL', program]
  let child: ChildProcess | undefined
  let said = ''

  const hasEnded = (): boolean =>
    child === undefined || child.exitCode !== null || child.signalCode !== null

  async function end(signal: NodeJS.Signals): Promise<void> {
    const running = child
    if (running === undefined || hasEnded()) return
    const gone = once(running, 'exit')
    running.kill(signal)
    await gone
  }

  function signal(name: NodeJS.Signals): Promise<void> {
    if (hasEnded() || child?.kill(name) !== true)
      return Promise.reject(new Error(`expected a ${kind.name} that runs`))
    return Promise.resolve()
  }

  async function start(): Promise<void> {
    if (!hasEnded()) throw new Error(`${kind.name} runs already`)
    const started = spawn(command[0]!, [...command.slice(1), ...args], {
      stdio: ['ignore', 'pipe', 'pipe'],
      env: { PATH: process.env['PATH'] ?? '', HOME: folder, ...env },
    })
    child = started
    for (const stream of [started.stdout, started.stderr])
      stream.on('data', (piece: Buffer) => (said += piece.toString()))
    try {
      await whenReady(kind, port, () =>
        Promise.resolve(hasEnded() ? said.slice(-LOG_TAIL) || 'without a word' : null),
      )
    } catch (error) {
      await end('SIGKILL')
      throw error
    }
  }

  async function dispose(): Promise<void> {
    await end('SIGKILL')
    rmSync(folder, { recursive: true, force: true })
  }

  await start().catch(async (error: unknown) => {
    await dispose()
    throw error
  })
  return {
    backend: 'processes',
    host: '127.0.0.1',
    port,
    start,
    stop: () => end('SIGTERM'),
    kill: () => end('SIGKILL'),
    freeze: () => signal('SIGSTOP'),
    thaw: () => signal('SIGCONT'),
    hangUp: () => signal('SIGHUP'),
    log: () => Promise.resolve(said),
    [Symbol.asyncDispose]: dispose,
  }
}
