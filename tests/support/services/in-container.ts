import { randomUUID } from 'node:crypto'
import type { StartedTestContainer, WaitStrategy } from 'testcontainers'
import { containerEngine } from './container-engine.ts'
import type { Service } from './service.ts'
import type { ServiceKind } from './service-kind.ts'
import { whenReady } from './when-ready.ts'

const FOLDER = '/loamline'
const STOP_S = 10
const HEADER = 8
const LOG_TAIL = 2000
const LABEL = 'loamline-service'

/** Runs a service in a container of its own, its port bound to one of this machine that stays the same. */
export async function inContainer(kind: ServiceKind, port: number): Promise<Service> {
  const { library, client } = await containerEngine()
  const mark = randomUUID()
  const { args, env, files } = kind.setUp({
    folder: FOLDER,
    address: '0.0.0.0',
    port: kind.innerPort,
    asRoot: true,
  })
  const content = { ...files, [`${FOLDER}/data/kept-here`]: '' }
  const started: StartedTestContainer = await new library.GenericContainer(kind.image)
    // The program itself, not the image's entry script: both ways of running it shall be the same.
    .withEntrypoint([kind.program])
    .withCommand([...args])
    .withEnvironment({ ...env })
    .withCopyContentToContainer(
      Object.entries(content).map(([target, text]) => ({ target, content: text, mode: 0o600 })),
    )
    // A port chosen by the engine would be another one after each start.
    .withExposedPorts({ container: kind.innerPort, host: port })
    .withWaitStrategy(none)
    .withLabels({ [LABEL]: mark })
    .start()
    .catch(async (cause: unknown) => {
      // The library waits for the ports of one that has ended already, and leaves it behind.
      const left = await client.container.fetchByLabel(LABEL, mark, { status: ['exited'] })
      if (left !== undefined) {
        const last = textOf(await left.logs({ stdout: true, stderr: true, follow: false }))
        await left.remove({ force: true, v: true })
        throw new Error(`${kind.name} ended before it was ready:\n${last.slice(-LOG_TAIL)}`, {
          cause,
        })
      }
      throw new Error(
        `${kind.name} did not start in a container of ${kind.image}: ${(cause as Error).message}` +
          ' (TEST_SERVICES=processes runs the installed program instead)',
        { cause },
      )
    })
  const container = client.container.getById(started.getId())

  async function log(): Promise<string> {
    return textOf(await container.logs({ stdout: true, stderr: true, follow: false }))
  }
  const state = async (): Promise<{ Running: boolean; Paused: boolean }> =>
    (await container.inspect()).State
  async function running(): Promise<{ Paused: boolean }> {
    const now = await state()
    if (!now.Running) throw new Error(`expected a ${kind.name} that runs`)
    return now
  }
  const ready = (): Promise<void> =>
    whenReady(kind, port, async () =>
      (await state()).Running ? null : (await log()).slice(-LOG_TAIL) || 'without a word',
    )
  async function dispose(): Promise<void> {
    // A paused one cannot be removed.
    await container.unpause().catch(() => {})
    await container.remove({ force: true, v: true })
  }

  await ready().catch(async (error: unknown) => {
    await dispose()
    throw error
  })
  return {
    backend: 'containers',
    host: '127.0.0.1',
    port,
    async start() {
      if ((await state()).Running) throw new Error(`${kind.name} runs already`)
      await container.start()
      await ready()
    },
    async stop() {
      if ((await state()).Running) await container.stop({ t: STOP_S })
    },
    async kill() {
      if (!(await state()).Running) return
      await container.kill({ signal: 'SIGKILL' })
      await container.wait()
    },
    async freeze() {
      if (!(await running()).Paused) await container.pause()
    },
    async thaw() {
      if ((await running()).Paused) await container.unpause()
    },
    async hangUp() {
      await running()
      await container.kill({ signal: 'SIGHUP' })
    },
    log,
    [Symbol.asyncDispose]: dispose,
  }
}

/** Nothing is waited for by the library: `whenReady` does that, the same for both ways. */
const none: WaitStrategy = {
  waitUntilReady: () => Promise.resolve(),
  withStartupTimeout: () => none,
  isStartupTimeoutSet: () => true,
  getStartupTimeout: () => 0,
}

/** Text of an engine's log: frames of one byte for the stream, three of nothing, four for the length. */
function textOf(frames: Buffer): string {
  const pieces: Buffer[] = []
  for (let at = 0; at + HEADER <= frames.length;) {
    const length = frames.readUInt32BE(at + 4)
    pieces.push(frames.subarray(at + HEADER, at + HEADER + length))
    at += HEADER + length
  }
  return Buffer.concat(pieces).toString()
}
