import { fork } from 'node:child_process'
import type { ChildProcess } from 'node:child_process'
import { once } from 'node:events'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { expect } from 'vitest'
import type { HostNews } from '../../support/intake-host.ts'
import { until } from '../../support/until.ts'

/** One life of the hub's way in: stores, ingest and a front in a process of their own. */
export interface IntakeProcess extends AsyncDisposable {
  /** Messages committed in this life. */
  messages(): number
  /** Why the front is not up, in its own words; null: it is. */
  problem(): string | null
  whenUp(): Promise<void>
  end(signal: 'SIGKILL' | 'SIGTERM'): Promise<void>
}

export function startIntake(
  folder: string,
  kind: 'embedded' | 'external',
  where: string,
  options: {
    /** @default 60 */
    readonly keepAliveS?: number
    /** Where its readings go on to, http://host:port. @default nowhere */
    readonly influx?: string
  } = {},
): IntakeProcess {
  const child: ChildProcess = fork(
    'tests/support/intake-host.ts',
    [folder, kind, where, String(options.keepAliveS ?? 60)],
    {
      execArgv: [],
      env: {
        ...process.env,
        NODE_COMPILE_CACHE:
          process.env['NODE_COMPILE_CACHE'] ?? join(tmpdir(), 'node-compile-cache'),
        ...(options.influx === undefined ? {} : { INTAKE_INFLUX: options.influx }),
      },
      stdio: ['ignore', 'ignore', 'pipe', 'ipc'],
    },
  )
  const exit = once(child, 'exit')
  let up = false
  let messages = 0
  let problem: string | null = 'not up yet'
  let said = ''
  child.stderr?.on('data', (chunk: Buffer) => (said += chunk.toString()))
  child.on('message', (news: HostNews) => {
    if (news.kind === 'up') up = true
    else if (news.kind === 'front') ({ problem } = news)
    else if (news.kind === 'tally') ({ messages } = news)
  })
  const end = async (signal: 'SIGKILL' | 'SIGTERM'): Promise<void> => {
    if (child.exitCode === null && child.signalCode === null) child.kill(signal)
    await exit
    expect(child.signalCode ?? child.exitCode, said).toBe(signal === 'SIGKILL' ? signal : 0)
  }
  return {
    messages: () => messages,
    problem: () => problem,
    whenUp: async () =>
      void (await until(
        'the way in is open',
        () => {
          if (child.exitCode !== null)
            throw new Error(`the host ended (${child.exitCode}): ${said}`)
          return up
        },
        20_000,
      )),
    end,
    async [Symbol.asyncDispose]() {
      if (child.exitCode === null && child.signalCode === null) child.kill('SIGKILL')
      await exit
    },
  }
}
