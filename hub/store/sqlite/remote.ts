import { setFlagsFromString } from 'node:v8'
import { Worker } from 'node:worker_threads'
import type { Transferable } from 'node:worker_threads'
import { HubError } from '../../errors.ts'
import { fromFault } from './fault.ts'
import type { Parcel, Reply, Request } from './serve.ts'

/** Room for what is young in a thread, MB: three semi-spaces of 2 MB. What it makes for an answer is soon gone. */
const YOUNG_MB = 6
// What the command line says of it would go before what is said for a thread. The main thread has its room already.
setFlagsFromString('--max-semi-space-size=0')

type Settle = { resolve: (value: unknown) => void; reject: (error: Error) => void }
type Method<A, K extends keyof A> = A[K] extends (...args: infer P) => infer R
  ? { args: P; value: Awaited<R> extends Parcel<infer V> ? V : Awaited<R> }
  : never

/** The calling side of a worker that runs `serve`. `Api` is the type of the handlers it serves. */
export interface Remote<Api> {
  /** Buffers in `transfer` move to the worker and are empty here afterwards. */
  call<K extends keyof Api & string>(
    method: K,
    args: Method<Api, K>['args'],
    transfer?: Transferable[],
  ): Promise<Method<Api, K>['value']>
  /** Ends the worker after its handler `close`; calls still waiting are answered first. */
  close(): Promise<void>
}

/**
 * Starts a worker and resolves once it serves; rejects with what its opening threw.
 * When the thread dies unasked, every waiting and later call rejects with HUB_STORE_UNAVAILABLE and
 * `onDeath` hears of it once.
 */
export function startRemote<
  Api,
  Data extends { readonly file: string } = { readonly file: string },
>(
  entry: URL,
  data: Data,
  options: {
    onDeath: (error: HubError) => void
    onEvent?: (event: unknown) => void
    /** Room for what is young, MB: more where much is held for a moment. @default 6 */
    youngMb?: number
  },
): Promise<Remote<Api>> {
  const worker = new Worker(new URL('./worker-entry.mjs', import.meta.url), {
    workerData: { ...data, entry: entry.href },
    resourceLimits: { maxYoungGenerationSizeMb: options.youngMb ?? YOUNG_MB },
  })
  const waiting = new Map<number, Settle>()
  let nextId = 1
  let gone: HubError | null = null
  let closing: Promise<void> | null = null
  let ending = false

  const call = (
    method: string,
    args: unknown[],
    transfer: Transferable[] = [],
  ): Promise<unknown> => {
    if (gone !== null) return Promise.reject(gone)
    return new Promise((resolve, reject) => {
      const id = nextId++
      worker.postMessage({ id, method, args } satisfies Request, transfer)
      waiting.set(id, { resolve, reject })
    })
  }

  const end = async (): Promise<void> => {
    ending = true
    await worker.terminate()
  }
  const close = (): Promise<void> => {
    closing ??= (async () => {
      if (gone !== null) return
      const done = call('close', [])
      gone = new HubError('HUB_STORE_UNAVAILABLE', `${data.file} is closed.`, { retry: false })
      try {
        await done
      } finally {
        await end()
      }
    })()
    return closing
  }

  const refuseWaiting = (error: Error): void => {
    for (const { reject } of waiting.values()) reject(error)
    waiting.clear()
  }

  return new Promise((resolveStart, rejectStart) => {
    let serving = false
    const died = (cause: unknown): void => {
      const why = cause instanceof Error ? `: ${cause.message}` : ''
      const error = new HubError(
        'HUB_STORE_UNAVAILABLE',
        `The thread that keeps ${data.file} stopped unexpectedly${why}.`,
        { retry: false, cause },
      )
      const first = gone === null
      gone = error
      refuseWaiting(error)
      // A message that could not be read leaves a thread that still runs.
      void end()
      if (!serving) rejectStart(error)
      else if (first) options.onDeath(error)
    }
    worker.on('message', (reply: Reply) => {
      switch (reply.kind) {
        case 'ready':
          serving = true
          resolveStart({ call, close } as Remote<Api>)
          break
        case 'refused':
          void end().then(() => rejectStart(fromFault(reply.fault)))
          break
        case 'value':
          waiting.get(reply.id)?.resolve(reply.value)
          waiting.delete(reply.id)
          break
        case 'fault':
          waiting.get(reply.id)?.reject(fromFault(reply.fault))
          waiting.delete(reply.id)
          break
        case 'event':
          options.onEvent?.(reply.event)
          break
      }
    })
    worker.on('error', died)
    worker.on('messageerror', died)
    worker.on('exit', (code) => {
      if (ending) refuseWaiting(gone ?? new Error(`${data.file} is closed.`))
      else died(new Error(`it ended with code ${code}`))
    })
  })
}
